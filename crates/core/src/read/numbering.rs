//! Cylinder numbers of a set of columns: what one header says is a tag, the set makes it a number.

use super::cylinder::Tag;
use super::error::plain;
use super::notes::Notes;
use super::plan::Plan;
use crate::codes;
use crate::notice::{Level, Notice};
use crate::recording::Quantity;

/// Numbers the cylinders of one quantity.
pub(crate) fn cylinders(plans: &mut [Plan], quantity: Quantity, notes: &mut Notes) {
    let members: Vec<usize> =
        (0..plans.len()).filter(|at| plans[*at].quantity == Some(quantity) && !plans[*at].ruled).collect();
    let mut tags: Vec<(usize, Tag)> = members.iter().filter_map(|at| Some((*at, plans[*at].tag?))).collect();
    front_and_rear(&mut tags);
    roman(&mut tags);
    one_sided(plans, &mut tags);
    let zero_based = tags.iter().any(|(_, tag)| *tag == Tag::Number(0));
    let corners = tags.iter().any(|(_, tag)| matches!(tag, Tag::Corner(..) | Tag::Level(_)));
    for (order, (at, tag)) in tags.iter().enumerate() {
        let (number, why) = match tag {
            Tag::Number(n) if zero_based => (n + 1, format!("number {n}, counted from 0")),
            Tag::Number(n) | Tag::Roman(n) => (*n, format!("number {n}")),
            Tag::Letter(n) => (*n, "by its letter".to_owned()),
            _ if corners => (order as u32 + 1, "by its place in the file".to_owned()),
            Tag::Hand(n) => (
                *n,
                if *n == 1 { "left or port counts as 1" } else { "right or starboard counts as 2" }
                    .to_owned(),
            ),
            Tag::End(n) => (*n, if *n == 1 { "front counts as 1" } else { "rear counts as 2" }.to_owned()),
            Tag::Corner(..) | Tag::Level(_) => continue,
        };
        plans[*at].cylinder = Some(number);
        plans[*at].why.push(format!("cylinder {number}: {why}"));
    }
    if corners {
        let levels = tags.iter().any(|(_, tag)| matches!(tag, Tag::Level(_)));
        let named = if levels { "upper and lower" } else { "side and end" };
        let text = format!("cylinders are named by {named}: they are numbered in the order of the columns");
        notes.caution(codes::CYLINDER_ASSUMED, text);
    }
    if tags.is_empty() && quantity == Quantity::ManifoldPressure {
        number_equal_names(plans, &members, notes);
    }
    renumber_channels(plans, &members, notes);
    duplicates(plans, quantity, notes);
}

/// `p_f` and `p_r`: with an `f` the `r` is the rear, not the right.
fn front_and_rear(tags: &mut [(usize, Tag)]) {
    let front = tags.iter().any(|(_, t)| *t == Tag::End(1));
    let left = tags.iter().any(|(_, t)| *t == Tag::Hand(1));
    let rear = tags.iter().any(|(_, t)| *t == Tag::End(2));
    if front && !left && !rear {
        tags.iter_mut().filter(|(_, t)| *t == Tag::Hand(2)).for_each(|(_, t)| *t = Tag::End(2));
    }
}

/// `I`, `II`, `III`: beside a numeral the letter is one too.
fn roman(tags: &mut [(usize, Tag)]) {
    if tags.iter().any(|(_, tag)| matches!(tag, Tag::Roman(_))) {
        tags.iter_mut().filter(|(_, tag)| *tag == Tag::Letter(9)).for_each(|(_, tag)| *tag = Tag::Number(1));
    }
}

/// `port` alone may be that of the intake, and `top` or `lower` anything: they count beside their other side.
fn one_sided(plans: &[Plan], tags: &mut Vec<(usize, Tag)>) {
    let has = |tag: Tag| tags.iter().any(|(_, other)| *other == tag);
    let (starboard, both) = (has(Tag::Hand(2)), has(Tag::Level(1)) && has(Tag::Level(2)));
    let port = |at: usize| plans[at].header.words.iter().any(|word| word == "port");
    tags.retain(|(at, tag)| match tag {
        Tag::Hand(1) => starboard || !port(*at),
        Tag::Level(_) => both,
        _ => true,
    });
}

/// Several columns with the same name and no number are numbered in file order, and that is said.
fn number_equal_names(plans: &mut [Plan], members: &[usize], notes: &mut Notes) {
    let same = members.windows(2).all(|w| plans[w[0]].header.words == plans[w[1]].header.words);
    if members.len() < 2 || !same {
        return;
    }
    for (number, at) in (1u32..).zip(members) {
        plans[*at].cylinder = Some(number);
        plans[*at].why.push(format!("cylinder {number}: by its place in the file"));
    }
    let text = "the pressure columns carry no cylinder number: they are numbered in the order of the columns";
    notes.caution(codes::CYLINDER_ASSUMED, text);
}

/// Channel numbers that do not start at 1 are no cylinder numbers.
fn renumber_channels(plans: &mut [Plan], members: &[usize], notes: &mut Notes) {
    let channel = |plan: &Plan| {
        let names =
            ["ch", "chan", "channel", "kanal", "canal", "canale", "voie", "ai", "ain", "adc", "in", "input"];
        plan.header.words.iter().any(|w| names.contains(&w.as_str()))
    };
    let mut found: Vec<(u32, usize)> = members
        .iter()
        .filter(|at| channel(&plans[**at]))
        .filter_map(|at| Some((plans[*at].cylinder?, *at)))
        .collect();
    found.sort_unstable();
    if found.first().is_none_or(|(first, _)| *first == 1) || found.len() < 2 {
        return;
    }
    for (number, (_, at)) in (1u32..).zip(found) {
        plans[at].cylinder = Some(number);
        plans[at].why.push(format!("cylinder {number}: by the order of its channel number"));
    }
    let text = "channel numbers do not start at 1: cylinders are numbered in the order of the channels";
    notes.caution(codes::CYLINDER_ASSUMED, text);
}

/// Two columns for one cylinder: the first is used.
fn duplicates(plans: &mut [Plan], quantity: Quantity, notes: &mut Notes) {
    let mut seen: Vec<(u32, usize)> = Vec::new();
    for at in 0..plans.len() {
        let Some(number) = plans[at].cylinder.filter(|_| plans[at].quantity == Some(quantity)) else {
            continue;
        };
        match seen.iter().find(|(n, _)| *n == number) {
            None => seen.push((number, at)),
            Some((_, first)) => {
                let first = plain(&plans[*first].header.text, 40);
                let name = plain(&plans[at].header.text, 40);
                plans[at].quantity = Some(Quantity::Ignored);
                plans[at].why.push(format!("left out: `{first}` is used for cylinder {number}"));
                let text =
                    format!("`{name}` names cylinder {number} like `{first}`: the first of the two is used");
                notes.push(Notice::new(codes::DUPLICATE_COLUMN, Level::Caution, text).on_cylinder(number));
            }
        }
    }
}
