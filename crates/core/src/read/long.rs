//! Long layout: one value a row, with the name of its signal; or one cylinder a row.

mod by_cylinder;

use by_cylinder::ByCylinder;

use super::ReadOptions;
use super::blocks::{Blocks, Next};
use super::clock::moment;
use super::error::{Trouble, counted, quoted};
use super::lines::{Field, Line, Lines, column, split};
use super::notes::Notes;
use super::number::{self, Cell};
use super::plan::{self, Form, TimeSource};
use super::rounds::Events;
use super::sniff::{LONGEST_LINE, Layout, is_comment};
use super::time_order::TimeKind;
use super::time_unit;
use super::unit_words;
use super::wide::Planned;
use crate::codes;
use crate::notice::{Level, Notice};

/// Most signals of one file.
const MOST_SIGNALS: usize = 1000;

const SIGNAL: &[&str] = &[
    "signal",
    "name",
    "channel",
    "parameter",
    "pid",
    "sensor",
    "variable",
    "measurement",
    "quantity",
    "kanal",
    "messgrosse",
    "messgro\u{df}e",
    "messstelle",
    "metric",
    "voie",
    "parametre",
    "parametro",
    "grandeur",
    "senal",
    "segnale",
    "item",
    "key",
    "tag",
    "label",
    "id",
    "canal",
    "canale",
    "field",
    "type",
];
const VALUE: &[&str] = &["value", "wert", "valeur", "valor", "valore", "val", "reading", "messwert", "data"];
const UNIT: &[&str] = &["unit", "units", "einheit", "unite", "unidad", "unita"];

/// Which column is what.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Shape {
    time: TimeSource,
    /// The number of the cylinder, in a column of its own.
    cylinder: Option<usize>,
    cells: Cells,
}

/// What a row holds.
#[derive(Debug, Clone, Copy)]
enum Cells {
    /// One value with the name of its signal.
    Named { signal: usize, value: usize, unit: Option<usize> },
    /// The values of the cylinder in this column.
    Cylinder(usize),
}

impl Shape {
    /// The layout in words.
    pub(crate) fn remark(&self) -> &'static str {
        match self.cells {
            Cells::Named { .. } => "long layout: one value a row",
            Cells::Cylinder(_) => "long layout: one cylinder a row",
        }
    }
}

/// The shape of a long table; `None` for any other.
pub(crate) fn shape(planned: &Planned) -> Option<Shape> {
    let plans = &planned.plans;
    let named = |list: &[&str], form: Form| {
        plans.iter().position(|p| p.form == form && p.header.words.iter().any(|w| list.contains(&w.as_str())))
    };
    let time = plan::time_source(plans);
    let is_time = |at: usize| match time {
        TimeSource::Column(t) => t == at,
        TimeSource::DateAndClock(d, c) => d == at || c == at,
        TimeSource::Unknown => false,
    };
    let cylinder = by_cylinder::cylinder_column(plans).filter(|at| !is_time(*at));
    let by_cylinder = || {
        let at =
            cylinder.filter(|_| time != TimeSource::Unknown && by_cylinder::has_bare_pressures(plans))?;
        Some(Shape { time, cylinder, cells: Cells::Cylinder(at) })
    };
    // `Cylinder id` names no signal.
    let Some(signal) = named(SIGNAL, Form::Text).filter(|at| Some(*at) != cylinder) else {
        return by_cylinder();
    };
    let figures = |at: &usize| plans[*at].form == Form::Figures && !is_time(*at) && Some(*at) != cylinder;
    let value = named(VALUE, Form::Figures).filter(figures).or_else(|| {
        let mut rest = (0..plans.len()).filter(figures);
        let only = rest.next()?;
        rest.next().is_none().then_some(only)
    });
    match value {
        Some(value) => {
            let unit = named(UNIT, Form::Text);
            Some(Shape { time, cylinder, cells: Cells::Named { signal, value, unit } })
        }
        None => by_cylinder(),
    }
}

/// Reads a long table into events, block by block.
///
/// # Errors
/// No time column, too many signals or too many values.
pub(crate) fn read(
    blocks: &mut Blocks<'_>,
    layout: &Layout<'_>,
    planned: &Planned,
    shape: Shape,
    options: &ReadOptions<'_>,
    notes: &mut Notes,
) -> Result<Events, Trouble> {
    let rows = ByCylinder::new(&planned.plans);
    let mut reader =
        LongReader { layout, planned, shape, options, events: Events::default(), names: Vec::new(), rows };
    loop {
        match blocks.next()? {
            Next::End => break,
            Next::LongLine(number, bytes) => {
                let found = format!("a line of {bytes} bytes");
                let expected = format!("at most {LONGEST_LINE} bytes");
                let line = Line { number, text: "" };
                reader.skip(notes, codes::LONG_LINE, line, 1, &found, &expected);
            }
            Next::Lines(block) => {
                let mut fields = Vec::new();
                let lines = Lines::from(&block.text, block.first_line);
                for line in lines.skip_while(|line| line.number < layout.data_line) {
                    reader.line(line, &mut fields, notes)?;
                }
            }
        }
        reader.events.check_size()?;
        Events::check_count(reader.rows.figures())?;
    }
    reader.finish_cylinders();
    let mut events = reader.events;
    events.check_size()?;
    let time_plan = match shape.time {
        TimeSource::Column(at) => &planned.plans[at],
        TimeSource::DateAndClock(_, at) => &planned.plans[at],
        TimeSource::Unknown => {
            return Err(Trouble::new(
                "signals and values without a time",
                "a column with the time of each value",
                "name it in [columns] of the machine file",
            ));
        }
    };
    events.kind = if time_plan.form == Form::Clock {
        TimeKind { clock: true, unit_s: 1.0, equal_ok: true }
    } else {
        let unit_s = time_unit::size(time_plan, &events.time_raw, notes);
        let base = events.time_raw.iter().copied().find(|t| t.is_finite()).unwrap_or(0.0);
        time_unit::scale(&mut events.time_raw, base, unit_s);
        TimeKind { clock: false, unit_s, equal_ok: true }
    };
    Ok(events)
}

struct LongReader<'a> {
    layout: &'a Layout<'a>,
    planned: &'a Planned,
    shape: Shape,
    options: &'a ReadOptions<'a>,
    events: Events,
    /// Names of the signals, with the cell of the cylinder column.
    names: Vec<(String, String)>,
    rows: ByCylinder,
}

impl LongReader<'_> {
    fn line<'t>(
        &mut self,
        line: Line<'t>,
        fields: &mut Vec<Field<'t>>,
        notes: &mut Notes,
    ) -> Result<(), Trouble> {
        if line.text.trim().is_empty() || is_comment(line.text) {
            return Ok(());
        }
        let columns = self.planned.names.len();
        let cut = line.text.len() > LONGEST_LINE || split(line.text, self.layout.delimiter, fields).is_err();
        if cut || fields.len() < columns {
            let at = column(line.text, line.text.len());
            self.skip(
                notes,
                codes::SHORT_ROW,
                line,
                at,
                &counted(fields.len(), "field"),
                &format!("{columns} as in the header"),
            );
            return Ok(());
        }
        let name_at = match self.shape.cells {
            Cells::Named { signal, .. } => signal,
            Cells::Cylinder(at) => at,
        };
        if fields[name_at].text == self.planned.names[name_at] {
            notes.push(
                Notice::new(codes::HEADER_AGAIN, Level::Note, "the header stands here again")
                    .at_line(line.number, Some(1)),
            );
            return Ok(());
        }
        let Some(time) = self.time(fields) else {
            let field = match self.shape.time {
                TimeSource::Column(at) | TimeSource::DateAndClock(_, at) => fields[at],
                TimeSource::Unknown => fields[0],
            };
            self.skip(
                notes,
                codes::BAD_CELL,
                line,
                column(line.text, field.start),
                &quoted(field.text),
                "a time",
            );
            return Ok(());
        };
        match self.shape.cells {
            Cells::Cylinder(at) => {
                self.cylinder_row(at, time, line, fields, notes);
                Ok(())
            }
            Cells::Named { signal, value, unit } => {
                self.named_value(time, line, (signal, value, unit), fields, notes)
            }
        }
    }

    /// Takes one value with the name of its signal.
    fn named_value(
        &mut self,
        time: f64,
        line: Line<'_>,
        (signal, value, unit): (usize, usize, Option<usize>),
        fields: &[Field<'_>],
        notes: &mut Notes,
    ) -> Result<(), Trouble> {
        let figure = match number::parse(fields[value].text, self.layout.figures.style) {
            Cell::Value(v) => v,
            Cell::WithUnit(v, written) if unit_words::parse(written).is_some() => v,
            Cell::Empty | Cell::Missing => f64::NAN,
            Cell::WithUnit(..) | Cell::Bad => {
                let at = column(line.text, fields[value].start);
                self.skip(notes, codes::BAD_CELL, line, at, &quoted(fields[value].text), "a figure");
                return Ok(());
            }
        };
        let cylinder = self.shape.cylinder.map_or("", |at| fields[at].text);
        let index = self.signal(fields[signal].text, cylinder, unit.map(|at| fields[at].text))?;
        self.events.push(time, index, figure, line.number);
        Ok(())
    }

    fn time(&self, fields: &[Field<'_>]) -> Option<f64> {
        let Planned { plans, order, base_day, .. } = self.planned;
        let seconds = |at: usize| {
            let m = moment(fields[at].text, *order)?;
            Some(m.day.map_or(0, |day| day - base_day) as f64 * 86_400.0 + m.seconds)
        };
        match self.shape.time {
            TimeSource::Column(at) if plans[at].form == Form::Clock => seconds(at),
            TimeSource::Column(at) => match number::parse(fields[at].text, self.layout.figures.style) {
                Cell::Value(v) | Cell::WithUnit(v, _) => Some(v),
                _ => None,
            },
            TimeSource::DateAndClock(date, clock) => Some(seconds(date)? + seconds(clock)?),
            TimeSource::Unknown => None,
        }
    }

    /// Number of a signal, planned when it is seen first.
    fn signal(&mut self, name: &str, cylinder: &str, unit: Option<&str>) -> Result<u16, Trouble> {
        if let Some(at) = self.names.iter().position(|(n, c)| n == name && c == cylinder) {
            return Ok(u16::try_from(at).unwrap_or(u16::MAX));
        }
        if self.names.len() >= MOST_SIGNALS {
            return Err(Trouble::new(
                format!("more than {MOST_SIGNALS} different signals"),
                "one name per signal in the signal column",
                "check which column holds the names",
            ));
        }
        self.names.push((name.to_owned(), cylinder.to_owned()));
        let unit = unit.filter(|u| !u.is_empty());
        let mut plan = plan::plan(name, unit, &["0"], self.options.machine);
        if let Some(tag) = by_cylinder::tag(cylinder) {
            plan = by_cylinder::of_cylinder(&plan, cylinder, Some(tag));
        }
        self.events.plans.push(plan);
        Ok(u16::try_from(self.names.len() - 1).unwrap_or(u16::MAX))
    }

    fn skip(&mut self, notes: &mut Notes, code: &str, line: Line<'_>, at: u64, found: &str, expected: &str) {
        self.events.skipped += 1;
        if notes.room(code) {
            let text = format!("found {found}, expected {expected}: the row is left out");
            notes.push(Notice::new(code, Level::Caution, text).at_line(line.number, Some(at)));
        } else {
            notes.count_only(code, Level::Caution);
        }
    }
}
