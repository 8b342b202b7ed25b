//! What each column of a table is to be: time, a channel, or left out.

use super::clock::{DateOrder, moment};
use super::cylinder::{self, Tag};
use super::header::{self, Header};
use super::sniff::{Look, look};
use super::unit_words::{self, Unit};
use super::words;
use crate::machine::{ColumnRule, Machine};
use crate::recording::{PressureKind, Quantity};

/// How the cells of a column are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Form {
    Figures,
    /// Clock time, perhaps with a date.
    Clock,
    /// A date alone.
    Date,
    Text,
    /// Nothing in the sample.
    Blank,
}

/// One column before its values are known.
#[derive(Debug, Clone)]
pub(crate) struct Plan {
    pub(crate) header: Header,
    pub(crate) form: Form,
    /// `None`: no idea.
    pub(crate) quantity: Option<Quantity>,
    pub(crate) tag: Option<Tag>,
    /// Cylinder by rule, beyond doubt.
    pub(crate) cylinder: Option<u32>,
    pub(crate) unit: Option<Unit>,
    pub(crate) kind: Option<PressureKind>,
    pub(crate) why: Vec<String>,
    /// Set by a rule: no second thoughts.
    pub(crate) ruled: bool,
    pub(crate) sample: Sample,
}

/// What the sample cells of a column that may be the time look like.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct Sample {
    /// Clock times of two parts, as `09:12`, without AM or PM.
    pub(crate) two_parts: bool,
    /// Share of the cells that differ from the one before.
    pub(crate) moves: f64,
    /// Plain figures that rise from cell to cell.
    pub(crate) rises: bool,
}

impl Sample {
    fn of(cells: &[&str]) -> Self {
        let filled: Vec<&str> =
            cells.iter().map(|cell| cell.trim()).filter(|cell| !cell.is_empty()).collect();
        let pairs = filled.len().saturating_sub(1).max(1) as f64;
        let one_colon = |cell: &&str| {
            cell.bytes().filter(|b| *b == b':').count() == 1 && !cell.contains(|c: char| c.is_alphabetic())
        };
        let figure = |cell: &str| cell.replace(',', ".").parse::<f64>().ok();
        let up = |w: &&[&str]| figure(w[0]).zip(figure(w[1])).is_some_and(|(a, b)| b > a);
        Self {
            two_parts: !filled.is_empty() && filled.iter().all(one_colon),
            moves: filled.windows(2).filter(|w| w[0] != w[1]).count() as f64 / pairs,
            // A column of milliseconds beside a clock falls back once a second: it is no time of its own.
            rises: filled.len() > 2 && filled.windows(2).all(|w| up(&w)),
        }
    }
}

/// Reads the form of a column from sample cells.
pub(crate) fn form(cells: &[&str]) -> Form {
    let (mut figures, mut clocks, mut dates, mut texts) = (0usize, 0usize, 0usize, 0usize);
    for cell in cells {
        match look(cell) {
            Look::Blank => {}
            Look::Text => texts += 1,
            Look::Figure => {
                match moment(cell, DateOrder::DayFirst).or_else(|| moment(cell, DateOrder::MonthFirst)) {
                    Some(m) if m.clock => clocks += 1,
                    // 20250410 is also a plain figure.
                    Some(_) if cell.contains(['-', '/', '.', ' ']) => dates += 1,
                    _ => figures += 1,
                }
            }
        }
    }
    let most = figures.max(clocks).max(dates).max(texts);
    match most {
        0 => Form::Blank,
        n if n == texts && texts > figures => Form::Text,
        n if n == figures => Form::Figures,
        n if n == clocks => Form::Clock,
        _ => Form::Date,
    }
}

/// Plans one column.
pub(crate) fn plan(name: &str, unit_cell: Option<&str>, cells: &[&str], machine: Option<&Machine>) -> Plan {
    let header = header::parse(name, unit_cell);
    let form = form(cells);
    let mut plan = Plan {
        tag: cylinder::tag(&header),
        unit: header.unit,
        kind: None,
        cylinder: None,
        quantity: None,
        why: Vec::new(),
        ruled: false,
        sample: Sample::of(cells),
        form,
        header,
    };
    match machine.and_then(|machine| rule(machine, &plan.header.text)) {
        Some(rule) => plan.obey(rule),
        None => plan.understand(cells),
    }
    plan
}

/// The rule for a header: letter by letter, else without regard to case and blanks.
fn rule<'a>(machine: &'a Machine, name: &str) -> Option<&'a ColumnRule> {
    let fold = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase();
    let exact = machine.columns.get(name);
    exact.or_else(|| machine.columns.iter().find(|(key, _)| fold(key) == fold(name)).map(|(_, rule)| rule))
}

impl Plan {
    fn obey(&mut self, rule: &ColumnRule) {
        self.ruled = true;
        self.quantity = Some(rule.quantity);
        self.cylinder = rule.cylinder;
        self.why.push("set by [columns] of the machine file".to_owned());
        if let Some((unit, kind)) = rule.unit.as_deref().and_then(unit_words::parse) {
            self.unit = Some(unit);
            self.kind = kind;
        }
        self.kind = rule.kind.or(self.kind);
        if self.unit.is_some_and(|unit| !unit.fits(rule.quantity)) {
            self.unit = None;
        }
        if self.kind.is_none() && rule.quantity == Quantity::ManifoldPressure {
            self.kind = words::pressure_kind(&self.header).map(|(kind, _)| kind);
        }
    }

    fn understand(&mut self, cells: &[&str]) {
        let mut meaning = words::meaning(&self.header);
        // `p1_min`: a unit of time on a pressure's name is part of the name.
        if matches!(self.unit, Some(Unit::Time(_))) && words::time_rank(&self.header) < 2 {
            let bare = Header { unit: None, ..self.header.clone() };
            let again = words::meaning(&bare);
            if again.quantity.is_some_and(|q| q != Quantity::Ignored) {
                (self.unit, meaning) = (None, again);
            }
        }
        self.why.push(meaning.why);
        self.quantity = meaning.quantity;
        if self.unit.is_none() {
            self.unit_from_cells(cells);
        }
        if matches!(self.form, Form::Text | Form::Date) {
            self.why = vec!["its cells are text".to_owned()];
            self.quantity = Some(Quantity::Ignored);
        }
        if self.quantity == Some(Quantity::ManifoldPressure)
            && let Some((kind, word)) = words::pressure_kind(&self.header)
        {
            self.kind = Some(kind);
            self.why.push(format!("{} by `{word}`", kind_name(kind)));
        }
        if self.quantity.is_some_and(|q| q != Quantity::Ignored && self.unit.is_some_and(|u| !u.fits(q))) {
            self.why.push("its unit is not one of this quantity".to_owned());
            self.quantity = Some(Quantity::Ignored);
        }
        if let (Some(q), Some(strange)) = (self.quantity, &self.header.strange_unit)
            && q == Quantity::ManifoldPressure
        {
            self.why.push(format!("its unit `{strange}` is not known"));
        }
    }

    /// A unit written behind the figures.
    fn unit_from_cells(&mut self, cells: &[&str]) {
        let behind = |cell: &&str| {
            let at = cell.trim().rfind(|c: char| c.is_ascii_digit())? + 1;
            unit_words::parse(cell.trim().get(at..)?)
        };
        let found: Vec<_> = cells.iter().filter_map(behind).collect();
        // The unit of nine cells in ten; the others are defects that will be placed.
        let same = |unit: &(Unit, Option<PressureKind>)| found.iter().filter(|other| *other == unit).count();
        let most = found.iter().max_by_key(|unit| same(unit)).copied();
        let Some((unit, kind)) = most.filter(|unit| same(unit) * 10 >= cells.len() * 9) else { return };
        self.unit = Some(unit);
        self.kind = kind.or(self.kind);
        self.why.push("unit from its cells".to_owned());
        if self.quantity.is_none() {
            let with_unit = Header { unit: Some(unit), ..self.header.clone() };
            self.quantity = words::meaning(&with_unit).quantity;
        }
    }
}

pub(crate) fn kind_name(kind: PressureKind) -> &'static str {
    match kind {
        PressureKind::Absolute => "absolute",
        PressureKind::Vacuum => "vacuum (positive below ambient)",
        PressureKind::Gauge => "gauge (negative below ambient)",
    }
}

/// Which columns carry the time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum TimeSource {
    /// One column.
    Column(usize),
    /// A column of dates and one of clock times.
    DateAndClock(usize, usize),
    /// None is named; one of the unknown columns may be it.
    Unknown,
}

/// A time in figures that rises from row to row, beside a clock that stands over several rows.
fn beside_a_coarse_clock(plans: &[Plan]) -> Option<usize> {
    let clocks = || plans.iter().filter(|p| !p.ruled && p.form == Form::Clock);
    if clocks().count() == 0 || clocks().any(|clock| clock.sample.moves > 0.5) {
        return None;
    }
    let exact = |p: &Plan| {
        p.form == Form::Figures
            && p.sample.rises
            && words::time_rank(&p.header) > 1
            && p.quantity.is_none_or(|q| matches!(q, Quantity::Ignored | Quantity::Time))
    };
    plans.iter().position(|p| !p.ruled && exact(p))
}

/// Chooses the time from headers and forms.
pub(crate) fn time_source(plans: &[Plan]) -> TimeSource {
    if let Some(at) = plans.iter().position(|p| p.ruled && p.quantity == Some(Quantity::Time)) {
        return TimeSource::Column(at);
    }
    let free = |plan: &Plan| !plan.ruled && plan.form != Form::Text;
    if let Some(exact) = beside_a_coarse_clock(plans) {
        return TimeSource::Column(exact);
    }
    let date = plans.iter().position(|p| free(p) && p.form == Form::Date);
    let clock = plans.iter().position(|p| free(p) && p.form == Form::Clock);
    if let (Some(date), Some(clock)) = (date, clock) {
        // A clock column that holds dates too needs no second column.
        return TimeSource::DateAndClock(date, clock);
    }
    let rank = |plan: &Plan| {
        let named = words::time_rank(&plan.header);
        let known = plan.quantity.is_some_and(|q| q != Quantity::Ignored && q != Quantity::Time);
        match plan.form {
            _ if !free(plan) || (known && named < 3) || plan.form == Form::Date => 0,
            Form::Clock => 4 + named,
            Form::Figures | Form::Blank => named,
            _ => 0,
        }
    };
    // The first column of the highest rank.
    let best = plans.iter().map(rank).max().unwrap_or(0);
    match plans.iter().position(|p| best > 0 && rank(p) == best) {
        Some(at) => TimeSource::Column(at),
        None => TimeSource::Unknown,
    }
}
