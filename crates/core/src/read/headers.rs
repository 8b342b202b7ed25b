//! A row of words among the data: the header again, a units row, or the header of another table.

use super::error::quoted;
use super::header::{self, Header};
use super::plan::Plan;
use super::{cylinder, sniff, words};
use crate::recording::Quantity;

/// What a row of words is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Again {
    No,
    /// The header of the table.
    Same,
    Units,
    /// Another one: what it says, and what the table has there.
    Other(String, String),
}

/// Looks at a row that does not begin with a figure.
pub(crate) fn again(cells: &[&str], names: &[String], plans: &[Plan]) -> Again {
    let same = cells.iter().zip(names).filter(|(cell, name)| **cell == name.as_str()).count();
    if same == names.len() && cells.iter().skip(names.len()).all(|cell| cell.is_empty()) {
        return Again::Same;
    }
    if sniff::is_units_row(cells) {
        return Again::Units;
    }
    let filled = cells.iter().filter(|cell| !cell.is_empty()).count();
    let figures = cells.iter().filter(|cell| sniff::look(cell) == sniff::Look::Figure).count();
    let headers: Vec<Header> = if figures == 0 && filled > 1 {
        cells.iter().map(|cell| header::parse(cell, None)).collect()
    } else {
        Vec::new()
    };
    let known = headers.iter().filter(|header| is_known(header)).count();
    // A torn row holds no names of quantities.
    if known < 2 || known * 2 < filled {
        return if same * 2 > names.len() { Again::Same } else { Again::No };
    }
    let differs = |(header, plan): &(&Header, &Plan)| is_known(header) && !plan.ruled && other(header, plan);
    if let Some((header, plan)) = headers.iter().zip(plans).find(differs) {
        return Again::Other(quoted(&header.text), quoted(&plan.header.text));
    }
    let width = |count: usize| super::error::counted(count, "column");
    let ends = cells.iter().rposition(|cell| !cell.is_empty()).map_or(0, |at| at + 1);
    let wanted = names.iter().rposition(|name| !name.is_empty()).map_or(0, |at| at + 1);
    if ends != wanted { Again::Other(width(ends), width(wanted)) } else { Again::Same }
}

fn is_known(header: &Header) -> bool {
    words::time_rank(header) > 1
        || words::meaning(header).quantity.is_some_and(|q| !matches!(q, Quantity::Ignored | Quantity::Time))
}

/// Whether a header says something else than the column above it.
fn other(header: &Header, plan: &Plan) -> bool {
    let units = header.unit.zip(plan.header.unit).is_some_and(|(a, b)| a != b);
    let here = words::meaning(header).quantity;
    let above = words::meaning(&plan.header).quantity;
    units || here != above || cylinder::tag(header) != cylinder::tag(&plan.header)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::read::plan;

    fn against(names: &[&str], row: &[&str]) -> Again {
        let owned: Vec<String> = names.iter().map(|name| (*name).to_owned()).collect();
        let plans: Vec<Plan> =
            names.iter().map(|name| plan::plan(name, None, &["1.5", "2.5"], None)).collect();
        again(row, &owned, &plans)
    }

    const NAMES: [&str; 4] = ["Time (s)", "MAP 1 (kPa)", "MAP 2 (kPa)", "RPM"];

    #[test]
    fn the_same_header_again() {
        assert_eq!(against(&NAMES, &NAMES), Again::Same);
        // A letter torn out of one name changes nothing that it says.
        assert_eq!(against(&NAMES, &["Time (s)", "MAP 1 (kPa)", "MA 2 (kPa)", "RPM"]), Again::Same);
        assert_eq!(against(&NAMES, &["s", "kPa", "kPa", "rpm"]), Again::Units);
    }

    #[test]
    fn another_header_is_none_of_this_table() {
        let other = |row: &[&str]| matches!(against(&NAMES, row), Again::Other(..));
        // Naive: more than half of the names are the same, so it would pass for the header again.
        assert!(other(&["Time (s)", "MAP 2 (kPa)", "MAP 1 (kPa)", "RPM"]));
        assert!(other(&["Time (s)", "MAP 1 (inHg)", "MAP 2 (inHg)", "RPM"]));
        assert!(other(&["Time (s)", "MAP 1 (kPa)", "MAP 2 (kPa)"]));
        assert!(other(&["Time (s)", "MAP 1 (kPa)", "MAP 2 (kPa)", "RPM", "Coolant (C)"]));
    }

    #[test]
    fn torn_rows_are_no_headers() {
        assert_eq!(against(&NAMES, &["error", "error", "error", "error"]), Again::No);
        assert_eq!(against(&NAMES, &["x", "41.2", "40.1", "900"]), Again::No);
        assert_eq!(against(&NAMES, &["overrun"]), Again::No);
    }
}
