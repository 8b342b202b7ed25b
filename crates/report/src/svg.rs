//! From stand-in colours to a finished SVG: one for picture files, one for pages.

use std::fmt::Write;

use crate::figure::canvas::{Drawing, Notes};
use crate::style::{Paint, SUB, second_set};

/// A file of its own: real colours on white, size in pixels.
pub(crate) fn standalone(drawing: &Drawing) -> String {
    let mut out = String::with_capacity(drawing.svg.len() + 512);
    let _ = writeln!(
        out,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{}\" height=\"{}\" viewBox=\"0 0 {} {}\">",
        drawing.width,
        drawing.height,
        drawing.width * SUB,
        drawing.height * SUB
    );
    let compact = compact_points(&drawing.svg);
    let body = body(&compact);
    let white = Paint::Paper.on_paper();
    let _ = writeln!(out, "<rect width=\"100%\" height=\"100%\" fill=\"{white}\"/>");
    replace(body, &mut out, |paint, out| {
        let _ = write!(out, "\"{}\"", paint.on_paper());
        dashes(paint, out);
    });
    out
}

/// For a page: CSS variables, a class per cylinder, no fixed size, `alt` as the name of the picture.
pub(crate) fn inline(drawing: &Drawing, class: &str, alt: &str) -> String {
    let mut out = String::with_capacity(drawing.svg.len() + 1024);
    let _ = writeln!(
        out,
        "<svg class=\"{class}\" role=\"img\" aria-label=\"{}\"{} viewBox=\"0 0 {} {}\">",
        escape(alt),
        notes(&drawing.notes),
        drawing.width * SUB,
        drawing.height * SUB
    );
    replace(body(&compact_points(&drawing.svg)), &mut out, |paint, out| {
        let _ = write!(out, "\"{}\"", paint.in_page());
        if let Some(c) = paint.cylinder() {
            let _ = write!(out, " class=\"cy cy{c}\"");
        }
        dashes(paint, out);
    });
    out
}

/// Scales for reading values back, as attributes.
fn notes(notes: &Notes) -> String {
    let Some(axis) = notes.axis.as_ref().and_then(|a| serde_json::to_string(a).ok()) else {
        return String::new();
    };
    let panels = serde_json::to_string(&notes.panels).unwrap_or_default();
    format!(" data-axis=\"{}\" data-panels=\"{}\"", escape(&axis), escape(&panels))
}

fn dashes(paint: Paint, out: &mut String) {
    if let Paint::Line(c) = paint
        && second_set(c)
    {
        let _ = write!(out, " stroke-dasharray=\"{} {}\"", 6.0 * SUB, 3.0 * SUB);
    }
}

/// What stands inside the root element, with its closing tag.
fn body(svg: &str) -> &str {
    svg.find(">\n").map_or("", |at| &svg[at + 2..])
}

/// Points as steps from one to the next, which takes half the room: polylines and polygons become paths.
fn compact_points(svg: &str) -> String {
    let mut out = String::with_capacity(svg.len());
    let mut open: Option<&str> = None;
    for line in svg.split_inclusive('\n') {
        if let Some((style, points)) = straight(line) {
            if open != Some(style) {
                close_lines(&mut out, &mut open);
                out.push_str("<path");
                out.push_str(style);
                out.push_str(" d=\"");
                open = Some(style);
            }
            out.push_str(&points);
            continue;
        }
        close_lines(&mut out, &mut open);
        let tag = ["<polyline", "<polygon"].into_iter().find(|t| line.starts_with(t));
        match (tag, line.split_once(" points=\"")) {
            (Some(tag), Some((head, rest))) => {
                out.push_str("<path");
                out.push_str(&head[tag.len()..]);
                out.push_str(" d=\"");
                let (points, tail) = rest.split_once('"').unwrap_or((rest, ""));
                steps(points, &mut out);
                if tag == "<polygon" {
                    out.push('z');
                }
                out.push('"');
                out.push_str(tail);
            }
            _ => out.push_str(line),
        }
    }
    out
}

/// Ends a path made of straight lines.
fn close_lines(out: &mut String, open: &mut Option<&str>) {
    if open.take().is_some() {
        out.push_str("\"/>\n");
    }
}

/// Style and way of a `<line>`: neighbours of one style become one path.
fn straight(line: &str) -> Option<(&str, String)> {
    let (style, places) = line.strip_prefix("<line")?.split_once(" x1=\"")?;
    let mut numbers = places.split('"').step_by(2).filter_map(|n| n.parse::<i64>().ok());
    let (x1, y1, x2, y2) = (numbers.next()?, numbers.next()?, numbers.next()?, numbers.next()?);
    let gap = |n: i64| if n < 0 { "" } else { " " };
    let (dx, dy) = (x2 - x1, y2 - y1);
    Some((style, format!("M{x1}{}{y1}l{dx}{}{dy}", gap(y1), gap(dy))))
}

/// `10,20 12,19` as `m10 20l2-1`.
fn steps(points: &str, out: &mut String) {
    let mut last: Option<(i64, i64)> = None;
    let parsed = points.split_whitespace().filter_map(|p| p.split_once(','));
    for (x, y) in parsed.filter_map(|(x, y)| Some((x.parse::<i64>().ok()?, y.parse::<i64>().ok()?))) {
        let (dx, dy) = match last {
            None => (x, y),
            Some((a, b)) => (x - a, y - b),
        };
        match last {
            None => out.push('m'),
            Some(_) if out.ends_with(|c: char| c.is_ascii_digit()) && dx >= 0 => out.push(' '),
            Some(_) => {}
        }
        let gap = if dy >= 0 { " " } else { "" };
        let _ = write!(out, "{dx}{gap}{dy}");
        last = Some((x, y));
    }
}

/// Copies `body` and hands every stand-in colour to `put`, which writes the quoted value.
fn replace(body: &str, out: &mut String, put: impl Fn(Paint, &mut String)) {
    let mut rest = body;
    while let Some(at) = rest.find("\"#") {
        let (before, from) = rest.split_at(at);
        push_compact(before, out);
        let paint = from.get(2..9).filter(|s| s.ends_with('"')).and_then(|s| parse(&s[..6]));
        match paint {
            Some(paint) => {
                put(paint, out);
                rest = &from[9..];
            }
            None => {
                out.push_str("\"#");
                rest = &from[2..];
            }
        }
    }
    push_compact(rest, out);
}

/// Drops what says nothing: full opacity, blanks before the end of a list of points, absent strokes.
fn push_compact(text: &str, out: &mut String) {
    let mut rest = text;
    const EMPTY: [&str; 3] = [" opacity=\"1\"", " stroke=\"none\"", " stroke-width=\"0\""];
    'outer: while !rest.is_empty() {
        let Some(at) = rest.find([' ']) else { break };
        out.push_str(&rest[..at]);
        rest = &rest[at..];
        // Only surfaces are see-through here; opacity of a whole element would cost a layer of its own.
        if let Some(after) = rest.strip_prefix(" opacity=")
            && !after.starts_with("\"1\"")
        {
            out.push_str(" fill-opacity=");
            rest = after;
            continue;
        }
        for empty in EMPTY {
            if let Some(after) = rest.strip_prefix(empty) {
                rest = after;
                continue 'outer;
            }
        }
        if let Some(after) = rest.strip_prefix(" \"") {
            out.push('"');
            rest = after;
            continue;
        }
        out.push(' ');
        rest = &rest[1..];
    }
    out.push_str(rest);
}

fn parse(hex: &str) -> Option<Paint> {
    let n = u32::from_str_radix(hex, 16).ok()?;
    Paint::from_stand_in(((n >> 16) as u8, (n >> 8) as u8, n as u8))
}

/// Escapes a text for an attribute or an element.
pub(crate) fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '&' => out.push_str("&amp;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            c if c.is_control() => out.push('\u{fffd}'),
            c => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::figure::canvas::{Anchor, Ink, draw};

    fn sample() -> Drawing {
        draw("test", 100.0, 50.0, |c| {
            c.path(&[(0.0, 0.0), (10.0, 10.0)], 1.0, Paint::Line(8))?;
            let ink = Ink { size: 12.0, bold: false, paint: Paint::Label(8), anchor: Anchor::Start };
            c.text((10.0, 10.0), "<script>\"#C1081D\"", ink)
        })
        .unwrap()
    }

    #[test]
    fn points_become_steps() {
        let lines = "<line a=\"#1\" x1=\"1\" y1=\"2\" x2=\"3\" y2=\"1\"/>\n<line a=\"#1\" x1=\"5\" y1=\"6\" x2=\"5\" y2=\"9\"/>\n<rect/>\n";
        assert_eq!(compact_points(lines), "<path a=\"#1\" d=\"M1 2l2-1M5 6l0 3\"/>\n<rect/>\n");
        let svg = "<polyline fill=\"none\" points=\"10,20 12,19 11,25 \"/>\n<polygon points=\"0,0 5,0 5,5 \"/>\n<rect/>\n";
        assert_eq!(
            compact_points(svg),
            "<path fill=\"none\" d=\"m10 20 2-1-1 6\"/>\n<path d=\"m0 0 5 0 0 5z\"/>\n<rect/>\n"
        );
    }

    #[test]
    fn no_stand_in_is_left_and_text_is_escaped() {
        for svg in [standalone(&sample()), inline(&sample(), "wide", "a \"quoted\" <alt>")] {
            assert!(!svg.contains("<script>"), "{svg}");
            assert!(!svg.replace("&quot;#C1081D&quot;", "").contains("1D\""), "{svg}");
            assert!(svg.contains("stroke-dasharray"), "{svg}");
            assert!(svg.trim_end().ends_with("</svg>"));
        }
        assert!(inline(&sample(), "wide", "").contains("class=\"cy cy8\""));
        assert!(standalone(&sample()).contains("#D55E00"));
    }
}
