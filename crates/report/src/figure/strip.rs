//! The strip above a trace: what each stretch is called, where screws were turned, bars over what was judged.

use crate::figure::canvas::{Anchor, Canvas, Drawn, Ink};
use crate::figure::marks::muted;
use crate::figure::scale::Scale;
use crate::figure::trace::{Stretch, Trace, pixels};
use crate::font::text_width;
use crate::style::{HAIR, Paint, SMALL};

/// Height of one line of words.
pub(crate) const LANE: f64 = 17.0;

/// A word of the strip with its place.
pub(crate) struct Word {
    text: String,
    x: f64,
    lane: u32,
    bold: bool,
    /// Pixels of the stretch it names.
    span: (f64, f64),
}

/// Words for windows and exclusions in the first lanes where they fit without touching; what finds no place is left
/// to the table under the figure.
pub(crate) fn lanes(data: &Trace, time: &Scale) -> (Vec<Word>, u32) {
    let mut taken: Vec<Vec<(f64, f64)>> = vec![Vec::new(); 2];
    let mut words = Vec::new();
    let judged = data.windows.iter().map(|s| (s, true));
    let rest = data.excluded.iter().map(|s| (s, false));
    let mut all: Vec<(&Stretch, bool)> = judged.chain(rest).collect();
    all.sort_by(|a, b| (b.0.end_s - b.0.start_s).total_cmp(&(a.0.end_s - a.0.start_s)));
    for (stretch, bold) in all {
        let Some((a, b)) = pixels(stretch, time) else { continue };
        let half = text_width(&stretch.word, SMALL, bold) / 2.0 + 4.0;
        let x = ((a + b) / 2.0).clamp(half, (time.to + 60.0 - half).max(half));
        let free = |lane: &Vec<(f64, f64)>| lane.iter().all(|(l, r)| x + half <= *l || x - half >= *r);
        if let Some(lane) = taken.iter().position(free) {
            taken[lane].push((x - half, x + half));
            words.push(Word { text: stretch.word.clone(), x, lane: lane as u32, bold, span: (a, b) });
        }
    }
    let used = taken.iter().rposition(|l| !l.is_empty()).map_or(0, |l| l as u32 + 1);
    (words, used)
}

/// Words for the turns of screws, in up to three lanes.
pub(crate) fn turn_lanes(data: &Trace, time: &Scale, width: f64) -> (Vec<Word>, u32) {
    let mut ends: Vec<f64> = Vec::new();
    let mut words = Vec::new();
    for (t, text) in data.turns.iter().filter(|t| time.holds(t.0)) {
        let x = time.px(*t);
        let half = text_width(text, SMALL, false) / 2.0 + 3.0;
        let x = x.clamp(half, (width - half).max(half));
        let lane = ends.iter().position(|end| x - half >= *end).unwrap_or(ends.len());
        if lane >= 3 {
            continue;
        }
        if lane == ends.len() {
            ends.push(0.0);
        }
        ends[lane] = x + half;
        words.push(Word { text: text.clone(), x, lane: lane as u32, bold: false, span: (x, x) });
    }
    (words, ends.len() as u32)
}

/// Draws the words of both kinds; `lanes` are those above the turns.
pub(crate) fn strip_words(canvas: &mut Canvas<'_>, words: &[Word], turns: &[Word], lanes: u32) -> Drawn {
    for word in words {
        let y = LANE * (f64::from(word.lane) + 0.5);
        let paint = if word.bold { Paint::Ink } else { Paint::Muted };
        canvas.text(
            (word.x, y),
            &word.text,
            Ink { size: SMALL, bold: word.bold, paint, anchor: Anchor::Middle },
        )?;
        let middle = (word.span.0 + word.span.1) / 2.0;
        if word.lane > 0 || (word.x - middle).abs() > 3.0 {
            canvas.line((middle, y + 7.0), (middle, y + 7.0 + 3.0), HAIR, Paint::Muted)?;
        }
    }
    for word in turns {
        let y = LANE * (f64::from(lanes + word.lane) + 0.5);
        canvas.text((word.x, y), &word.text, muted(Anchor::Middle))?;
    }
    Ok(())
}

/// Bars over what was judged.
pub(crate) fn bars(canvas: &mut Canvas<'_>, data: &Trace, time: &Scale, y: f64) -> Drawn {
    for stretch in &data.windows {
        if let Some((x0, x1)) = pixels(stretch, time) {
            canvas.line((x0, y), (x1.max(x0 + 1.0), y), 3.0, Paint::Ink)?;
        }
    }
    Ok(())
}
