//! Commas that part the fields and stand inside the figures too: `0,05,30,25,1100` under `time,map1,rpm`.
//!
//! A file with more fields than names, row by row the same number, is taken apart in every way that gives each name
//! one figure. A way is dropped where it would make a figure that no logger prints: a leading zero before the decimal
//! mark (`05,3`), a sign behind it, decimals of changing number, pressures of which one has decimals and the other has
//! none, an engine that turns below 50 rev/min, a time that falls. If one way is left it is taken, and said; if
//! several are, nothing is guessed. The rules are common practice of printing figures, no source.

use super::error::{Trouble, plain};
use super::header;
use super::lines::{Delimiter, Field, Line, Lines, split};
use super::notes::Notes;
use super::sniff::{Layout, Look, is_comment, look};
use super::words;
use crate::codes;
use crate::recording::Quantity;

/// Rows that ways are judged by.
const SAMPLE: usize = 2000;
/// Most ways that are looked at.
const MOST_WAYS: usize = 20_000;
/// Slowest engine, rev/min.
const SLOWEST_RPM: f64 = 50.0;

/// More fields than names.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Suspicion {
    names: Vec<String>,
    header_line: u64,
}

/// The text with semicolons between the fields.
#[derive(Debug)]
pub(crate) struct Clear {
    pub(crate) text: String,
    /// What was understood, for `inspect`.
    pub(crate) remark: String,
}

const COMMA: Delimiter = Delimiter::Mark(b',');

/// Whether a table looks like one; `None` for any other.
pub(crate) fn suspected(text: &str, layout: &Layout<'_>) -> Option<Suspicion> {
    if layout.delimiter != COMMA {
        return None;
    }
    let (names, header_line) = match &layout.names {
        Some(names) => (names.clone(), layout.header_line),
        None => {
            let line = layout.preamble.iter().rfind(|line| line.number < layout.data_line)?;
            let mut fields = Vec::new();
            split(line.text.trim_start_matches(['#', '/', '%', '!', ' ']), COMMA, &mut fields).ok()?;
            (fields.iter().map(|f| f.text.to_owned()).collect(), line.number)
        }
    };
    let named = names.iter().all(|name| look(name) == Look::Text);
    let fits = names.len() >= 2 && (names.len() + 1..=2 * names.len()).contains(&layout.width);
    // A comma at the end of every row is no field.
    let filled = || rows(text, layout).0.iter().any(|row| row.last().is_some_and(|f| !f.text.is_empty()));
    (named && fits && filled()).then_some(Suspicion { names, header_line })
}

/// Sample rows of the usual width, and how many others there were.
fn rows<'a>(text: &'a str, layout: &Layout<'_>) -> (Vec<Vec<Field<'a>>>, usize) {
    let data = Lines::new(text).skip_while(|line| line.number < layout.data_line);
    let data = data.filter(|line| !line.text.trim().is_empty() && !is_comment(line.text));
    let (mut found, mut others) = (Vec::new(), 0);
    for line in data.take(SAMPLE) {
        let mut fields = Vec::new();
        if split(line.text, COMMA, &mut fields).is_ok() && fields.len() == layout.width {
            found.push(fields);
        } else {
            others += 1;
        }
    }
    (found, others)
}

/// Takes the rows apart.
///
/// # Errors
/// Several ways are left, or none.
pub(crate) fn untangle(
    text: &str,
    layout: &Layout<'_>,
    suspicion: &Suspicion,
    notes: &mut Notes,
) -> Result<Clear, Trouble> {
    let (rows, others) = rows(text, layout);
    let refuse = |found: &str| {
        let found = format!(
            "rows of {} fields under {} names: commas stand between the fields and inside the figures, and {found}",
            layout.width,
            suspicion.names.len()
        );
        Trouble::new(
            found,
            "another mark between the fields, or a decimal point",
            "export it again with semicolons or tabs between the fields",
        )
        .at(layout.data_line, 1)
    };
    if text.contains([';', '"']) || others * 20 > rows.len() {
        return Err(refuse("not every row has the same number of them"));
    }
    let facts: Vec<Facts> = (0..layout.width).map(|at| Facts::of(rows.iter().map(|r| r[at].text))).collect();
    let roles: Vec<Role> = suspicion.names.iter().map(|name| Role::of(name)).collect();
    let ways =
        ways(suspicion.names.len(), layout.width).ok_or_else(|| refuse("there are too many of them"))?;
    let mut left = ways.into_iter().filter(|way| holds(way, &facts, &roles, &rows));
    let Some(way) = left.next() else {
        return Err(refuse("no way of joining them makes sense"));
    };
    if left.next().is_some() {
        return Err(refuse("it cannot be told which belong together"));
    }
    let with: Vec<String> = way
        .iter()
        .zip(&suspicion.names)
        .filter(|(split, _)| **split)
        .map(|(_, name)| format!("`{}`", plain(name, 24)))
        .collect();
    let remark = format!("figures with decimals in {}", with.join(", "));
    notes.caution(
        codes::DECIMAL_MARK_ASSUMED,
        format!(
            "commas stand between the fields and inside the figures: {} fields under {} names can be joined in one way \
             only, {remark}",
            layout.width,
            suspicion.names.len()
        ),
    );
    Ok(Clear { text: rewritten(text, suspicion.header_line, layout.width, &way), remark })
}

/// What the cells of one field have in common.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Facts {
    /// May stand before a decimal mark: whole figures without leading zeros.
    whole: bool,
    /// May stand behind one: digits only, always as many.
    decimals: bool,
    /// May be a cell of its own: not a figure with a leading zero.
    alone: bool,
}

impl Facts {
    fn of<'a>(cells: impl Iterator<Item = &'a str>) -> Self {
        let mut facts = Self { whole: true, decimals: true, alone: true };
        let mut length = None;
        for cell in cells {
            let digits = cell.trim_start_matches(['+', '-', '\u{2212}']);
            let figure = !digits.is_empty() && digits.bytes().all(|b| b.is_ascii_digit());
            let leading_zero = figure && digits.len() > 1 && digits.starts_with('0');
            facts.whole &= figure && !leading_zero;
            facts.alone &= !leading_zero;
            let same = *length.get_or_insert(cell.len()) == cell.len();
            facts.decimals &= figure && digits.len() == cell.len() && same;
        }
        facts
    }
}

/// What a name asks of its figures.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Role {
    Time,
    Speed,
    Pressure,
    Other,
}

impl Role {
    fn of(name: &str) -> Self {
        let header = header::parse(name, None);
        match words::meaning(&header).quantity {
            Some(Quantity::EngineSpeed) => Self::Speed,
            Some(Quantity::ManifoldPressure) => Self::Pressure,
            _ if words::time_rank(&header) > 1 => Self::Time,
            _ => Self::Other,
        }
    }
}

/// Every way of giving `names` names `width` fields, one or two each: whether a name has two.
fn ways(names: usize, width: usize) -> Option<Vec<Vec<bool>>> {
    let mut all: Vec<Vec<bool>> = vec![Vec::new()];
    let doubles = width - names;
    for at in 0..names {
        let rest = names - at - 1;
        let used = |way: &[bool]| way.iter().filter(|split| **split).count();
        let longer = all.iter().flat_map(|way| {
            [false, true].into_iter().filter_map(|split| {
                let count = used(way) + usize::from(split);
                (count <= doubles && count + rest >= doubles).then(|| [way.as_slice(), &[split]].concat())
            })
        });
        all = longer.take(MOST_WAYS + 1).collect();
        if all.len() > MOST_WAYS {
            return None;
        }
    }
    Some(all)
}

/// Whether a way makes figures that a logger prints.
fn holds(way: &[bool], facts: &[Facts], roles: &[Role], rows: &[Vec<Field<'_>>]) -> bool {
    let mut pressures =
        way.iter().zip(roles).filter(|(_, role)| **role == Role::Pressure).map(|(split, _)| *split);
    let first = pressures.next();
    if pressures.any(|split| Some(split) != first) {
        return false;
    }
    let mut at = 0;
    for (split, role) in way.iter().zip(roles) {
        let sound = if *split { facts[at].whole && facts[at + 1].decimals } else { facts[at].alone };
        if !sound || !suits(*role, at, *split, rows) {
            return false;
        }
        at += if *split { 2 } else { 1 };
    }
    true
}

/// Whether the figures at a field suit their name.
fn suits(role: Role, at: usize, split: bool, rows: &[Vec<Field<'_>>]) -> bool {
    let value = |row: &Vec<Field<'_>>| {
        let text =
            if split { format!("{}.{}", row[at].text, row[at + 1].text) } else { row[at].text.to_owned() };
        text.parse::<f64>().ok()
    };
    let mut figures: Vec<f64> = match role {
        Role::Time | Role::Speed => rows.iter().filter_map(value).collect(),
        Role::Pressure | Role::Other => return true,
    };
    if figures.is_empty() {
        return true;
    }
    if role == Role::Time {
        let falls = figures.windows(2).filter(|w| w[1] < w[0]).count();
        return falls * 20 <= figures.len();
    }
    let mid = figures.len() / 2;
    *figures.select_nth_unstable_by(mid, f64::total_cmp).1 >= SLOWEST_RPM
}

/// The text with a semicolon for every comma that parts two figures; lines keep their length and number.
fn rewritten(text: &str, header_line: u64, width: usize, way: &[bool]) -> String {
    let mut out = String::with_capacity(text.len());
    let start = |line: &Line<'_>| line.text.as_ptr() as usize - text.as_ptr() as usize;
    let mut done = 0;
    for line in Lines::new(text).skip_while(|line| line.number < header_line) {
        out.push_str(&text[done..start(&line)]);
        let commas = line.text.matches(',').count();
        let inner = line.number > header_line && commas + 1 == width;
        // For each comma of a whole row: whether it stands inside a figure.
        let mut inside = way.iter().flat_map(|split| if *split { &[true, false][..] } else { &[false][..] });
        for ch in line.text.chars() {
            match ch {
                ',' if inner && inside.next() == Some(&true) => out.push(','),
                ',' => out.push(';'),
                other => out.push(other),
            }
        }
        done = start(&line) + line.text.len();
    }
    out.push_str(&text[done..]);
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ways_are_those_of_the_binomial() {
        // 4 over 3 and 6 over 2.
        assert_eq!(ways(4, 7).map(|w| w.len()), Some(4));
        assert_eq!(ways(6, 8).map(|w| w.len()), Some(15));
        assert_eq!(ways(40, 60), None);
    }

    #[test]
    fn cells_tell_what_they_may_be() {
        let of = |cells: &[&str]| Facts::of(cells.iter().copied());
        assert_eq!(of(&["05", "10"]), Facts { whole: false, decimals: true, alone: false });
        assert_eq!(of(&["5", "10"]), Facts { whole: true, decimals: false, alone: true });
        assert_eq!(of(&["-5", "10"]), Facts { whole: true, decimals: false, alone: true });
        assert_eq!(of(&["--"]), Facts { whole: false, decimals: false, alone: true });
    }

    #[test]
    fn rewriting_keeps_lengths() {
        let text = "note\ntime,map,rpm\n0,05,30,2,1100\nodd,row\n";
        let out = rewritten(text, 2, 5, &[true, true, false]);
        assert_eq!(out, "note\ntime;map;rpm\n0,05;30,2;1100\nodd;row\n");
    }
}
