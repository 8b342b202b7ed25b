//! CAN frames as candump text: `(1436509052.252013) can0 7E8#04410C1AF8AAAAAA`, with answers by ISO 15765-4.
//!
//! The log form of the tool (with time stamps before the interface) and its screen form
//! (`(0.1) can0  7E8  [8]  04 41 0C ...`) are read. Answers of engine control units have the identifiers
//! 7E8 to 7EF or 18DAF1xx. Vehicle identity (service 09) is neither decoded nor shown.

use super::ReadOptions;
use super::error::Trouble;
use super::isotp::{Assembler, Step};
use super::j1979::{self, Scale};
use super::lines::{Line, Lines};
use super::notes::Notes;
use super::plan::{self, Plan};
use super::rounds::Events;
use crate::notice::{Level, Notice};
use crate::recording::TroubleCode;

/// One frame.
#[derive(Debug, Clone, PartialEq)]
struct Frame {
    time_s: f64,
    bus: String,
    id: u32,
    data: Vec<u8>,
}

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
    let frames = head
        .iter()
        .filter(|line| line.text.len() < 400 && frame(line.text).is_ok_and(|f| f.is_some()))
        .count();
    frames >= 1 && frames * 2 > head.len()
}

/// Refuses frames without time stamps, as the tool shows them on the screen.
///
/// # Errors
/// Most of the first lines are such frames.
pub(crate) fn check_stamps(text: &str) -> Result<(), Trouble> {
    let head: Vec<Line<'_>> = Lines::new(text).filter(|l| !l.text.trim().is_empty()).take(10).collect();
    let bare = |line: &&Line<'_>| {
        let stamped = format!("(0.0) {}", line.text.get(..200).unwrap_or(line.text));
        !line.text.contains('(')
            && line.text.contains(['#', '['])
            && frame(&stamped).is_ok_and(|f| f.is_some())
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

/// Reads one line: a frame, `None` for one that is none (comment, remote or error frame), or what was expected.
fn frame(line: &str) -> Result<Option<Frame>, &'static str> {
    let line = line.trim();
    if line.is_empty() || line.starts_with(['#', ';', '/']) {
        return Ok(None);
    }
    let rest = line.strip_prefix('(').ok_or("a time stamp in brackets")?;
    let (stamp, rest) = rest.split_once(')').ok_or("a closing bracket after the time stamp")?;
    let time_s = stamp_seconds(stamp.trim()).ok_or("a time stamp in seconds")?;
    let mut words = rest.split_whitespace();
    let bus = words.next().ok_or("an interface name")?;
    let body = words.next().ok_or("an identifier and data")?;
    let (id, data) = match body.split_once('#') {
        Some((id, data)) => (id, log_data(data)?),
        None => {
            let count = words.next().ok_or("a data length")?;
            let count =
                count.trim_start_matches('[').trim_end_matches(']').parse().map_err(|_| "a data length")?;
            if words.clone().next() == Some("remote") {
                return Ok(None);
            }
            (body, Some(screen_data(words, count)?))
        }
    };
    if !matches!(id.len(), 3 | 8) {
        return Err("an identifier of 3 or 8 hex digits");
    }
    let id = u32::from_str_radix(id, 16).map_err(|_| "an identifier of 3 or 8 hex digits")?;
    let error_frame = id & 0x2000_0000 != 0;
    Ok(data.filter(|_| !error_frame).map(|data| Frame { time_s, bus: bus.to_owned(), id, data }))
}

/// Seconds of a stamp; relative to a fixed second so that microseconds survive.
fn stamp_seconds(stamp: &str) -> Option<f64> {
    let fits = stamp.starts_with(|c: char| c.is_ascii_digit())
        && stamp.bytes().all(|b| b.is_ascii_digit() || b == b'.');
    if fits {
        return stamp.parse().ok();
    }
    // `2015-07-10 08:30:52.252013`, the stamp of the screen form with dates.
    let m = super::clock::moment(stamp, super::clock::DateOrder::DayFirst)?;
    Some(m.day.unwrap_or(0) as f64 * 86_400.0 + m.seconds)
}

/// Data of the log form; `None` for a remote frame.
fn log_data(text: &str) -> Result<Option<Vec<u8>>, &'static str> {
    // CAN FD: `##` and one digit of flags.
    let hex = match text.strip_prefix('#') {
        Some(rest) => rest.get(1..).ok_or("CAN FD flags")?,
        None => text,
    };
    if hex.starts_with(['R', 'r']) {
        return Ok(None);
    }
    let hex = hex.split('_').next().unwrap_or(hex);
    let digits: Vec<u8> = hex.bytes().filter(|b| *b != b'.').collect();
    if !digits.len().is_multiple_of(2) || digits.len() > 128 {
        return Err("whole bytes of data, at most 64");
    }
    digits
        .chunks(2)
        .map(|pair| byte(pair).ok_or("data in hex digits"))
        .collect::<Result<Vec<_>, _>>()
        .map(Some)
}

fn screen_data<'a>(words: impl Iterator<Item = &'a str>, count: usize) -> Result<Vec<u8>, &'static str> {
    let data: Option<Vec<u8>> = words
        .take(count.min(64))
        .map(|word| if word.len() == 2 { byte(word.as_bytes()) } else { None })
        .collect();
    let data = data.ok_or("data in hex digits")?;
    if data.len() == count { Ok(data) } else { Err("as many data bytes as the length says") }
}

fn byte(pair: &[u8]) -> Option<u8> {
    u8::from_str_radix(std::str::from_utf8(pair).ok().filter(|p| !p.starts_with('+'))?, 16).ok()
}

/// Reads a candump log.
///
/// # Errors
/// No answer of an engine control unit in it.
pub(crate) fn read(text: &str, options: &ReadOptions<'_>, notes: &mut Notes) -> Result<Decoded, Trouble> {
    let mut decoder = Decoder::new(options);
    for line in Lines::new(text) {
        match frame(line.text.get(..400).unwrap_or(line.text)) {
            Ok(Some(frame)) => decoder.frame(&frame, line.number, notes),
            Ok(None) => {}
            Err(expected) => {
                decoder.events.skipped += 1;
                bad_line(line, expected, notes);
            }
        }
    }
    if decoder.events.value.is_empty() {
        let found = format!("{} CAN frames and no measured value of an engine among them", decoder.frames);
        return Err(Trouble::new(
            found,
            "answers by ISO 15765-4 (identifiers 7E8 to 7EF or 18DAF1xx) with engine speed or manifold pressure",
            "ask for service 01, parameters 0B and 0C, while recording",
        ));
    }
    let layout =
        vec![format!("{} CAN frames as candump text, answers by ISO 15765-4 and SAE J1979", decoder.frames)];
    Ok(Decoded { events: decoder.events, codes: decoder.codes, layout })
}

fn bad_line(line: Line<'_>, expected: &str, notes: &mut Notes) {
    if !notes.room("bad-frame") {
        return notes.count_only("bad-frame", Level::Caution);
    }
    let found = super::error::quoted(line.text);
    let text = format!("found {found}, expected {expected}: the line is left out");
    notes.push(Notice::new("bad-frame", Level::Caution, text).at_line(line.number, Some(1)));
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
}

impl<'a> Decoder<'a> {
    fn new(options: &'a ReadOptions<'a>) -> Self {
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
        }
    }

    fn frame(&mut self, frame: &Frame, line: u64, notes: &mut Notes) {
        self.frames += 1;
        let answer = (0x7e8..=0x7ef).contains(&frame.id) || frame.id & 0xffff_ff00 == 0x18da_f100;
        if !answer {
            return;
        }
        if self.bus.get_or_insert_with(|| frame.bus.clone()) != &frame.bus {
            self.other_bus += 1;
            return;
        }
        let base = *self.base_s.get_or_insert(frame.time_s);
        match self.assembler.take(&frame.bus, frame.id, &frame.data) {
            Step::Payload(payload) => self.payload(frame, frame.time_s - base, &payload, line),
            Step::Nothing => {}
            Step::Broken(what) => {
                if notes.room("bad-frame") {
                    let text = format!("found {what}, expected a payload by ISO-TP: the frame is left out");
                    notes.push(Notice::new("bad-frame", Level::Note, text).at_line(line, None));
                } else {
                    notes.count_only("bad-frame", Level::Note);
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
            plan.ruled = true;
            if let Some(sender) = other {
                plan.quantity = Some(crate::recording::Quantity::Ignored);
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

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn frames_in_the_forms_of_the_tool() {
        let log = frame("(1436509052.252013) can0 7E8#04410C1AF8AAAAAA").unwrap().unwrap();
        assert_eq!((log.id, log.data.len()), (0x7e8, 8));
        let wide = frame("(1436509054.003000) can0 18DAF110#03410B23AAAAAAAA R").unwrap().unwrap();
        assert_eq!(wide.id, 0x18da_f110);
        let screen = frame(" (0.000100)  can0  7E8   [8]  04 41 0C 1A F8 AA AA AA").unwrap().unwrap();
        assert_eq!(screen.data, log.data);
        assert_eq!(frame("(0.1) can0 7E8#R8"), Ok(None));
        assert!(frame("(0.1) can0 7E8#0441").unwrap().is_some());
        assert!(frame("(0.1) can0 7E8#044").is_err());
        assert!(frame("time,rpm").is_err());
    }
}
