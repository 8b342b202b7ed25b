//! Rows of one cylinder each: `time_s,cylinder,pressure_kpa,rpm`.
//!
//! The pressure of a row belongs to the cylinder in its column. What all cylinders share stands in every row; it is
//! taken from the first row of a round, for a value that comes again would begin the next one.

use super::LongReader;
use crate::codes;
use crate::read::cylinder::{self, Tag};
use crate::read::error::quoted;
use crate::read::header;
use crate::read::lines::{Field, Line, column};
use crate::read::notes::Notes;
use crate::read::number::{self, Cell};
use crate::read::plan::{Form, Plan};
use crate::read::rounds::by_signal::stand_by_signal;
use crate::read::unit_words;
use crate::recording::Quantity;

/// Words that may stand beside such a name.
const BESIDE: &[&str] = &["no", "nr", "num", "number", "nummer", "numero", "id", "index", "idx", "#"];

/// The column that holds the number of the cylinder and nothing else.
pub(super) fn cylinder_column(plans: &[Plan]) -> Option<usize> {
    plans.iter().position(|plan| {
        let words = &plan.header.words;
        let names = words.iter().filter(|w| cylinder::is_word(w)).count();
        let beside = words.iter().filter(|w| BESIDE.contains(&w.as_str())).count();
        let free = !plan.ruled && plan.header.unit.is_none();
        free && names == 1 && names + beside == words.len() && matches!(plan.form, Form::Figures | Form::Text)
    })
}

/// Whether the columns hold pressures of no cylinder of their own.
pub(super) fn has_bare_pressures(plans: &[Plan]) -> bool {
    let mut pressures = plans.iter().filter(|p| p.quantity == Some(Quantity::ManifoldPressure)).peekable();
    pressures.peek().is_some()
        && pressures.all(|p| p.tag.is_none() && p.cylinder.is_none() && p.form == Form::Figures)
}

/// What a cell of the column says: the tag a header `cylinder 1` would give.
pub(super) fn tag(cell: &str) -> Option<Tag> {
    if number::is_missing(cell) {
        return None;
    }
    cylinder::tag(&header::parse(&format!("cylinder {cell}"), None))
}

/// A plan for one cylinder's part of a column.
pub(super) fn of_cylinder(plan: &Plan, cell: &str, tag: Option<Tag>) -> Plan {
    let mut plan = plan.clone();
    plan.header.text = format!("{} cylinder {}", plan.header.text, cell.trim());
    plan.tag = tag;
    if let (true, Some(Tag::Number(number))) = (plan.ruled, tag) {
        plan.cylinder = Some(number);
    }
    plan
}

/// Rows as they stand in the file.
#[derive(Debug, Default)]
pub(super) struct ByCylinder {
    /// Cells of the cylinder column and what they say.
    cylinders: Vec<(String, Tag)>,
    time: Vec<f64>,
    cylinder: Vec<u16>,
    lines: Vec<u64>,
    /// Columns of figures that mean something, and their values.
    columns: Vec<usize>,
    values: Vec<Vec<f64>>,
}

impl ByCylinder {
    pub(super) fn new(plans: &[Plan]) -> Self {
        let used = |plan: &Plan| {
            let known = plan.quantity.is_some_and(|q| !matches!(q, Quantity::Ignored | Quantity::Time));
            known && plan.form == Form::Figures
        };
        let columns: Vec<usize> = (0..plans.len()).filter(|at| used(&plans[*at])).collect();
        Self { values: vec![Vec::new(); columns.len()], columns, ..Self::default() }
    }

    fn rows(&self) -> usize {
        self.time.len()
    }

    /// How many figures are held.
    pub(super) fn figures(&self) -> usize {
        self.values.iter().map(Vec::len).sum()
    }

    /// Number of a cylinder, noted when it is seen first.
    fn number(&mut self, cell: &str) -> Option<u16> {
        let at = match self.cylinders.iter().position(|(known, _)| known == cell) {
            Some(at) => at,
            None => {
                let tag = tag(cell).filter(|_| self.cylinders.len() < super::MOST_SIGNALS)?;
                // `1` and `01` are one cylinder.
                let same = self.cylinders.iter().position(|(_, known)| *known == tag);
                same.unwrap_or_else(|| {
                    self.cylinders.push((cell.to_owned(), tag));
                    self.cylinders.len() - 1
                })
            }
        };
        u16::try_from(at).ok()
    }

    /// Whether a column's values belong to the cylinder of their row. Those of pressures do; those of a lambda or an
    /// exhaust temperature where rows of one moment differ more often than not.
    fn is_of_cylinder(&self, column: usize, plan: &Plan) -> bool {
        match plan.quantity {
            Some(Quantity::ManifoldPressure) => true,
            Some(Quantity::Lambda | Quantity::ExhaustTemperature) => {
                let (mut same, mut other) = (0usize, 0usize);
                for row in 1..self.rows() {
                    let pair = (self.values[column][row - 1], self.values[column][row]);
                    let one_moment = self.time[row - 1] == self.time[row];
                    if one_moment && self.cylinder[row - 1] != self.cylinder[row] && !pair.0.is_nan() {
                        same += usize::from(pair.0 == pair.1);
                        other += usize::from((pair.0 - pair.1).abs() > 0.0);
                    }
                }
                other > same
            }
            _ => false,
        }
    }
}

impl LongReader<'_> {
    /// Takes one row of a cylinder.
    pub(super) fn cylinder_row(
        &mut self,
        at: usize,
        time: f64,
        line: Line<'_>,
        fields: &[Field<'_>],
        notes: &mut Notes,
    ) {
        let Some(cylinder) = self.rows.number(fields[at].text) else {
            let place = column(line.text, fields[at].start);
            let expected = "the number of a cylinder";
            return self.skip(notes, codes::BAD_CELL, line, place, &quoted(fields[at].text), expected);
        };
        let mut values = Vec::with_capacity(self.rows.columns.len());
        for at in &self.rows.columns {
            let unit = self.planned.plans[*at].unit;
            let figure = match number::parse(fields[*at].text, self.layout.figures.style) {
                Cell::Value(value) => Some(value),
                Cell::Empty | Cell::Missing => Some(f64::NAN),
                Cell::WithUnit(value, written) => {
                    let found = unit_words::parse(written).map(|(found, _)| found);
                    (found.is_some() && found == unit).then_some(value)
                }
                Cell::Bad => None,
            };
            let Some(figure) = figure else {
                let place = column(line.text, fields[*at].start);
                let found = quoted(fields[*at].text);
                return self.skip(notes, codes::BAD_CELL, line, place, &found, "a figure");
            };
            values.push(figure);
        }
        self.rows.time.push(time);
        self.rows.cylinder.push(cylinder);
        self.rows.lines.push(line.number);
        self.rows.values.iter_mut().zip(values).for_each(|(list, value)| list.push(value));
    }

    /// Turns the rows into single values.
    pub(super) fn finish_cylinders(&mut self) {
        let rows = std::mem::take(&mut self.rows);
        let plans = &self.planned.plans;
        // A column that names one cylinder alone parts nothing.
        let parted = rows.cylinders.len() > 1;
        let mut signals: Vec<Vec<u16>> = Vec::new();
        for (column, at) in rows.columns.iter().enumerate() {
            let first = u16::try_from(self.events.plans.len()).unwrap_or(u16::MAX);
            if parted && rows.is_of_cylinder(column, &plans[*at]) {
                let each = rows.cylinders.iter();
                self.events.plans.extend(each.map(|(cell, tag)| of_cylinder(&plans[*at], cell, Some(*tag))));
                signals.push((0u16..).take(rows.cylinders.len()).map(|n| first.saturating_add(n)).collect());
            } else {
                self.events.plans.push(plans[*at].clone());
                signals.push(vec![first]);
            }
        }
        if stand_by_signal(&rows.time, &rows.cylinder) {
            return self.cylinder_by_cylinder(&rows, &signals);
        }
        // What the row's round has had already.
        let mut seen = vec![false; rows.cylinders.len()];
        let mut had = vec![false; rows.columns.len()];
        for row in 0..rows.rows() {
            let cylinder = usize::from(rows.cylinder[row]);
            if seen[cylinder] || !parted {
                seen.fill(false);
                had.fill(false);
            }
            seen[cylinder] = true;
            for (column, signal) in signals.iter().enumerate() {
                let value = rows.values[column][row];
                let own = signal.get(cylinder).filter(|_| signal.len() > 1);
                if own.is_none() && (had[column] || value.is_nan()) {
                    continue;
                }
                had[column] = true;
                let signal = own.copied().unwrap_or(signal[0]);
                self.events.push(rows.time[row], signal, value, rows.lines[row]);
            }
        }
    }

    /// All rows of the first cylinder, then all of the next: the values stand signal by signal, and what is shared is
    /// taken from the rows of the first.
    fn cylinder_by_cylinder(&mut self, rows: &ByCylinder, signals: &[Vec<u16>]) {
        for (column, signal) in signals.iter().enumerate() {
            for (cylinder, signal) in signal.iter().enumerate() {
                for row in (0..rows.rows()).filter(|row| usize::from(rows.cylinder[*row]) == cylinder) {
                    self.events.push(rows.time[row], *signal, rows.values[column][row], rows.lines[row]);
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use crate::read::{ReadOptions, read_bytes};
    use crate::recording::{Quantity, Recording};

    const ROWS: usize = 100;

    fn read(text: &str) -> Recording {
        read_bytes("x", text.as_bytes(), &ReadOptions::default()).unwrap()
    }

    fn pressure(row: usize, cylinder: usize) -> f64 {
        30.0 + (row * 7 % 41) as f64 + cylinder as f64 / 10.0
    }

    fn row(at: usize, cylinder: usize) -> String {
        let time = format!("{}.{:02}", at / 50, at % 50 * 2);
        format!("{time},{cylinder},{:.1},{}\n", pressure(at, cylinder), 1100 + at % 23)
    }

    fn check(recording: &Recording, what: &str) {
        assert_eq!(recording.time_s.len(), ROWS, "{what}");
        assert!((recording.time_s[99] - 1.98).abs() < 1e-9, "{what}: {}", recording.time_s[99]);
        let pressures = recording.cylinder_pressures();
        assert_eq!(pressures.len(), 4, "{what}");
        for (cylinder, channel) in (1..).zip(&pressures) {
            for at in [0, 37, 99] {
                let (found, want) = (channel.values[at], pressure(at, cylinder));
                assert!((found - want).abs() < 1e-9, "{what}: {} row {at}: {found}", channel.header);
            }
        }
        let speed = &recording.first(Quantity::EngineSpeed).unwrap().values;
        assert!((0..ROWS).all(|at| speed[at] == (1100 + at % 23) as f64), "{what}");
        assert!(recording.notices.iter().all(|n| n.code != "time-backwards"), "{what}");
    }

    #[test]
    fn the_cylinder_in_a_column_of_its_own() {
        let header = "time_s,cylinder,map_kpa,rpm\n";
        let in_turn: String =
            (0..ROWS).flat_map(|at| (1..=4).map(move |cylinder| row(at, cylinder))).collect();
        check(&read(&format!("{header}{in_turn}")), "in turn");
        let one_by_one: String =
            (1..=4).flat_map(|cylinder| (0..ROWS).map(move |at| row(at, cylinder))).collect();
        check(&read(&format!("{header}{one_by_one}")), "one cylinder after the other");
        let named = in_turn.replace(",1,", ",Cyl 1,").replace(",2,", ",Cyl 2,");
        let named = named.replace(",3,", ",Cyl 3,").replace(",4,", ",Cyl 4,");
        check(&read(&format!("{header}{named}")), "names");
    }

    #[test]
    fn quantity_and_cylinder_in_two_columns() {
        let mut text = String::from("time_s,quantity,cylinder,value,unit\n");
        for at in 0..ROWS {
            let time = format!("{}.{:02}", at / 50, at % 50 * 2);
            for cylinder in 1..=4 {
                text += &format!("{time},MAP,{cylinder},{:.1},kPa\n", pressure(at, cylinder));
            }
            text += &format!("{time},engine speed,,{},rpm\n", 1100 + at % 23);
        }
        check(&read(&text), "two columns");
    }

    #[test]
    fn a_column_that_parts_nothing_gives_no_cylinder() {
        let rows: String = (0..ROWS).map(|at| row(at, 4)).collect();
        let recording = read(&format!("time_s,cylinder,map_kpa,rpm\n{rows}"));
        assert_eq!((recording.time_s.len(), recording.cylinder_pressures().len()), (ROWS, 0));
        assert_eq!(recording.first(Quantity::ManifoldPressure).unwrap().cylinder, None);
    }
}
