//! Pixels to a palette of at most 256 colours, for small picture files that are quick to pack.
//!
//! Figures use a handful of colours and the shades where an edge falls between two pixels. The most frequent 256
//! colours stay as they are; every other pixel takes the nearest of them, which at an edge nobody can see. The result
//! depends on the pixels alone.

use std::collections::HashMap;

/// Palette and one index per pixel.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Indexed {
    /// Red, green, blue of each entry.
    pub(crate) palette: Vec<u8>,
    /// Entry of each pixel.
    pub(crate) pixels: Vec<u8>,
}

/// Reduces opaque pixels, given as red, green, blue.
pub(crate) fn reduce(pixels: impl Iterator<Item = [u8; 3]> + Clone) -> Indexed {
    let mut counts: HashMap<[u8; 3], u64> = HashMap::new();
    for (colour, length) in runs(pixels.clone()) {
        *counts.entry(colour).or_default() += length;
    }
    let mut colours: Vec<([u8; 3], u64)> = counts.into_iter().collect();
    colours.sort_unstable_by(|a, b| b.1.cmp(&a.1).then(a.0.cmp(&b.0)));
    let kept: Vec<[u8; 3]> = colours.iter().take(256).map(|c| c.0).collect();
    let index: HashMap<[u8; 3], u8> = colours.iter().map(|(c, _)| (*c, nearest(&kept, *c))).collect();
    let mut out = Vec::new();
    for (colour, length) in runs(pixels) {
        let entry = index.get(&colour).copied().unwrap_or(0);
        out.resize(out.len() + length as usize, entry);
    }
    Indexed { palette: kept.into_iter().flatten().collect(), pixels: out }
}

/// Neighbouring pixels of one colour: figures are mostly paper.
fn runs(mut pixels: impl Iterator<Item = [u8; 3]>) -> impl Iterator<Item = ([u8; 3], u64)> {
    let mut open = pixels.next().map(|c| (c, 1));
    std::iter::from_fn(move || {
        let (colour, mut length) = open?;
        for next in pixels.by_ref() {
            if next == colour {
                length += 1;
            } else {
                open = Some((next, 1));
                return Some((colour, length));
            }
        }
        open = None;
        Some((colour, length))
    })
}

fn nearest(kept: &[[u8; 3]], colour: [u8; 3]) -> u8 {
    let far =
        |k: &[u8; 3]| -> u32 { k.iter().zip(colour).map(|(a, b)| u32::from(a.abs_diff(b)).pow(2)).sum() };
    kept.iter().enumerate().min_by_key(|(_, k)| far(k)).map_or(0, |(i, _)| i as u8)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn few_colours_come_back_exactly() {
        let pixels = [[255, 255, 255], [255, 255, 255], [0, 114, 178], [255, 255, 255], [1, 2, 3]];
        let out = reduce(pixels.iter().copied());
        let back: Vec<[u8; 3]> = out
            .pixels
            .iter()
            .map(|i| {
                let at = usize::from(*i) * 3;
                [out.palette[at], out.palette[at + 1], out.palette[at + 2]]
            })
            .collect();
        assert_eq!(back, pixels);
    }

    #[test]
    fn of_many_colours_each_lands_near_itself() {
        let all: Vec<[u8; 3]> = (0..1000u32).map(|i| [(i % 256) as u8, (i / 4) as u8, 7]).collect();
        let out = reduce(all.iter().copied());
        assert_eq!(out.palette.len(), 768);
        for (pixel, i) in all.iter().zip(&out.pixels) {
            let at = usize::from(*i) * 3;
            let far: u32 = (0..3).map(|k| u32::from(pixel[k].abs_diff(out.palette[at + k]))).sum();
            assert!(far < 256, "{pixel:?}");
        }
        assert!(reduce(std::iter::empty()).pixels.is_empty());
    }
}
