//! CAN frames as candump text: `(1436509052.252013) can0 7E8#04410C1AF8AAAAAA`, with answers by ISO 15765-4.
//!
//! The log form of the tool (with time stamps before the interface) and its screen form
//! (`(0.1) can0  7E8  [8]  04 41 0C ...`) are read, with stamps that count from 1970, from the first frame, from the
//! frame before, or that name the date. Answers of engine control units have the identifiers
//! 7E8 to 7EF or 18DAF1xx. Vehicle identity (service 09) is neither decoded nor shown.

mod frame;
mod stamps;

use frame::{Frame, frame};
use stamps::Stamps;

use super::ReadOptions;
use super::blocks::{Blocks, Next};
use super::error::Trouble;
use super::isotp::{Assembler, Step};
use super::j1979::{self, Scale};
use super::lines::{Line, Lines};
use super::notes::Notes;
use super::plan::{self, Plan};
use super::rounds::Events;
use crate::codes;
use crate::notice::{Level, Notice};
use crate::recording::{Quantity, TroubleCode};

/// A code or a clearing, with the number of events before it.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Codes {
    pub(crate) found: Vec<(usize, TroubleCode)>,
    pub(crate) cleared: Vec<usize>,
}

/// Frames decoded.
#[derive(Debug, Clone)]
pub(crate) struct Decoded {
    pub(crate) events: Events,
    pub(crate) codes: Codes,
    pub(crate) layout: Vec<String>,
}

/// Whether a text is a candump log: most of its first lines are frames.
pub(crate) fn is_candump(text: &str) -> bool {
    let head: Vec<Line<'_>> =
        Lines::new(text).take(60).filter(|l| !l.text.trim().is_empty()).take(20).collect();
    let frames = head.iter().filter(|line| line.text.len() < 400 && is_frame(line.text)).count();
    frames >= 1 && frames * 2 > head.len()
}

fn is_frame(line: &str) -> bool {
    frame(line).is_ok_and(|f| f.is_some())
}

/// Refuses frames without time stamps, as the tool shows them on the screen.
///
/// # Errors
/// Most of the first lines are such frames.
pub(crate) fn check_stamps(text: &str) -> Result<(), Trouble> {
    let head: Vec<Line<'_>> = Lines::new(text).filter(|l| !l.text.trim().is_empty()).take(10).collect();
    let bare = |line: &&Line<'_>| {
        let stamped = format!("(0.0) {}", line.text.get(..200).unwrap_or(line.text));
        !line.text.contains('(') && line.text.contains(['#', '[']) && is_frame(&stamped)
    };
    if head.is_empty() || head.iter().filter(bare).count() * 2 <= head.len() {
        return Ok(());
    }
    Err(Trouble::new(
        "CAN frames without time stamps",
        "the log form, with the time of each frame in brackets",
        "record with candump -l, or -t a for the screen form",
    )
    .at(1, 1))
}

/// Most bytes of a line that are looked at: a frame is far shorter.
const LONGEST: usize = 400;

/// Reads a candump log, block by block; `head` is its beginning, by which the stamps are judged.
///
/// # Errors
/// No answer of an engine control unit in it, or more values than are allowed.
pub(crate) fn read(
    blocks: &mut Blocks<'_>,
    head: &str,
    options: &ReadOptions<'_>,
    notes: &mut Notes,
) -> Result<Decoded, Trouble> {
    let mut decoder = Decoder::new(options, Stamps::judge(head));
    loop {
        match blocks.next()? {
            Next::End => break,
            Next::LongLine(number, _) => {
                decoder.events.skipped += 1;
                bad_line(Line { number, text: "" }, "a line of at most 400 bytes", notes);
            }
            Next::Lines(block) => {
                for line in Lines::from(&block.text, block.first_line) {
                    decoder.line(line, notes);
                }
            }
        }
        decoder.events.check_size()?;
    }
    if decoder.events.value.is_empty() {
        let found = format!("{} CAN frames and no measured value of an engine among them", decoder.frames);
        return Err(Trouble::new(
            found,
            "answers by ISO 15765-4 (identifiers 7E8 to 7EF or 18DAF1xx) with engine speed or manifold pressure",
            "ask for service 01, parameters 0B and 0C, while recording",
        ));
    }
    let mut layout =
        vec![format!("{} CAN frames as candump text, answers by ISO 15765-4 and SAE J1979", decoder.frames)];
    layout.extend(decoder.stamps.remark());
    Ok(Decoded { events: decoder.events, codes: decoder.codes, layout })
}

fn bad_line(line: Line<'_>, expected: &str, notes: &mut Notes) {
    if !notes.room(codes::BAD_FRAME) {
        return notes.count_only(codes::BAD_FRAME, Level::Caution);
    }
    let found = super::error::quoted(line.text);
    let text = format!("found {found}, expected {expected}: the line is left out");
    notes.push(Notice::new(codes::BAD_FRAME, Level::Caution, text).at_line(line.number, Some(1)));
}

struct Decoder<'a> {
    options: &'a ReadOptions<'a>,
    assembler: Assembler,
    scale: Scale,
    events: Events,
    /// Sender and key of each signal.
    signals: Vec<(u32, u16)>,
    codes: Codes,
    frames: usize,
    base_s: Option<f64>,
    /// Interface of the first answer; others that log the same bus would double every value.
    bus: Option<String>,
    other_bus: u64,
    stamps: Stamps,
}

impl<'a> Decoder<'a> {
    fn new(options: &'a ReadOptions<'a>, stamps: Stamps) -> Self {
        Self {
            options,
            assembler: Assembler::default(),
            scale: Scale::default(),
            events: Events::default(),
            signals: Vec::new(),
            codes: Codes { found: Vec::new(), cleared: Vec::new() },
            frames: 0,
            base_s: None,
            bus: None,
            other_bus: 0,
            stamps,
        }
    }

    fn line(&mut self, line: Line<'_>, notes: &mut Notes) {
        let mut end = line.text.len().min(LONGEST);
        while !line.text.is_char_boundary(end) {
            end -= 1;
        }
        match frame(&line.text[..end]) {
            Ok(Some(mut frame)) => {
                frame.time_s = self.stamps.time_s(frame.time_s);
                self.frame(&frame, line.number, notes);
            }
            Ok(None) => {}
            Err(expected) => {
                self.events.skipped += 1;
                bad_line(line, expected, notes);
            }
        }
    }

    fn frame(&mut self, frame: &Frame, line: u64, notes: &mut Notes) {
        self.frames += 1;
        let Some(data) = &frame.data else { return };
        let answer = (0x7e8..=0x7ef).contains(&frame.id) || frame.id & 0xffff_ff00 == 0x18da_f100;
        if !answer {
            return;
        }
        if self.bus.get_or_insert_with(|| frame.bus.clone()) != &frame.bus {
            self.other_bus += 1;
            return;
        }
        let base = *self.base_s.get_or_insert(frame.time_s);
        match self.assembler.take(&frame.bus, frame.id, data) {
            Step::Payload(payload) => self.payload(frame, frame.time_s - base, &payload, line),
            Step::Nothing => {}
            Step::Broken(what) => {
                if notes.room(codes::BAD_FRAME) {
                    let text = format!("found {what}, expected a payload by ISO-TP: the frame is left out");
                    notes.push(Notice::new(codes::BAD_FRAME, Level::Note, text).at_line(line, None));
                } else {
                    notes.count_only(codes::BAD_FRAME, Level::Note);
                }
            }
        }
    }

    fn payload(&mut self, frame: &Frame, time_s: f64, payload: &[u8], line: u64) {
        match payload {
            [0x41, rest @ ..] => self.current_data(frame.id, time_s, rest, line),
            [0x43, rest @ ..] => self.trouble("stored", rest),
            [0x47, rest @ ..] => self.trouble("pending", rest),
            [0x4a, rest @ ..] => self.trouble("permanent", rest),
            [0x44, ..] => self.codes.cleared.push(self.events.value.len()),
            _ => {}
        }
    }

    /// One or several parameters, one after the other.
    fn current_data(&mut self, id: u32, time_s: f64, mut rest: &[u8], line: u64) {
        let mut readings = Vec::new();
        while let Some((pid, data)) = rest.split_first() {
            readings.clear();
            j1979::decode(*pid, data, &mut self.scale, &mut readings);
            for reading in &readings {
                let signal = self.signal(id, reading.key);
                self.events.push(time_s, signal, reading.value, line);
            }
            match j1979::length(*pid) {
                Some(length) if data.len() > length => rest = &data[length..],
                _ => break,
            }
        }
    }

    fn signal(&mut self, id: u32, key: u16) -> u16 {
        if let Some(at) = self.signals.iter().position(|s| *s == (id, key)) {
            return at as u16;
        }
        let other = self.signals.iter().find(|(_, k)| *k == key).map(|(sender, _)| *sender);
        self.signals.push((id, key));
        self.events.plans.push(self.plan(id, key, other));
        (self.signals.len() - 1) as u16
    }

    fn plan(&self, id: u32, key: u16, other: Option<u32>) -> Plan {
        let parameter = j1979::parameter(key);
        let pid = key / 10;
        let mut name = format!("{pid:02X} {}", parameter.name);
        if other.is_some() {
            name = format!("{name} ({id:X})");
        }
        let mut plan = plan::plan(&name, None, &["0"], self.options.machine);
        if !plan.ruled {
            plan.quantity = Some(parameter.quantity);
            plan.unit = Some(parameter.unit);
            plan.kind = parameter.kind;
            plan.tag = None;
            plan.cylinder = None;
            plan.why = vec![format!("SAE J1979 service 01 parameter {pid:02X}")];
            if parameter.quantity == Quantity::Ignored {
                let wanted = parameter.name.starts_with("commanded");
                let why = if wanted {
                    "a wanted value, not a measured one"
                } else {
                    "not a quantity that is judged here"
                };
                plan.why.push(why.to_owned());
            }
            plan.ruled = true;
            if let Some(sender) = other {
                plan.quantity = Some(Quantity::Ignored);
                plan.why.push(format!("left out: {sender:X} answers this parameter too and is used"));
            }
        }
        plan
    }

    /// Trouble codes: a count, then two bytes each.
    fn trouble(&mut self, status: &str, rest: &[u8]) {
        for pair in rest.get(1..).unwrap_or(&[]).chunks_exact(2) {
            let Some(code) = j1979::trouble_code(pair[0], pair[1]) else { continue };
            let known = self.codes.found.iter().any(|(_, c)| c.code == code && c.status == status);
            if known || self.codes.found.len() >= 256 {
                continue;
            }
            let text = j1979::code_text(&code).map(str::to_owned);
            let entry = TroubleCode { code, status: status.to_owned(), time_s: None, text };
            self.codes.found.push((self.events.value.len(), entry));
        }
    }
}
