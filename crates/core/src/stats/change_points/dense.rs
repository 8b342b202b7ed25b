//! The optimal partition of series without a hole: all candidates of a place side by side.
//!
//! While nothing jumps, no candidate can be dropped, and every place is asked about all places before it. Their sums lie in
//! lists of their own here, so that the cost of many is computed together.

use super::Costs;

/// Candidate starts of a segment, rising.
struct Candidates {
    start: Vec<usize>,
    /// The time from which each can no longer win.
    dies: Vec<usize>,
    first_death: usize,
    /// The start again, as a figure.
    place: Vec<f64>,
    /// Optimum up to the start.
    best: Vec<f64>,
    /// Sum of squares of all channels up to the start.
    squares: Vec<f64>,
    /// Per channel: sum up to the start.
    sums: Vec<Vec<f64>>,
}

impl Candidates {
    fn push(&mut self, start: usize, best: f64, costs: &Costs) {
        let (sums, squares) = costs.up_to(start);
        self.start.push(start);
        self.dies.push(usize::MAX);
        self.place.push(start as f64);
        self.best.push(best);
        self.squares.push(squares);
        self.sums.iter_mut().zip(sums).for_each(|(list, sum)| list.push(sum));
    }

    fn bury(&mut self, now: usize) {
        if self.first_death > now {
            return;
        }
        let stays: Vec<bool> = self.dies.iter().map(|dies| *dies > now).collect();
        retain(&mut self.start, &stays);
        retain(&mut self.dies, &stays);
        let figures = [&mut self.place, &mut self.best, &mut self.squares].into_iter().chain(&mut self.sums);
        figures.for_each(|list| retain(list, &stays));
        self.first_death = self.dies.iter().copied().min().unwrap_or(usize::MAX);
    }

    /// Optimum up to `now` with the last segment from each candidate on, without its penalty.
    fn totals(&self, now: usize, costs: &Costs, out: &mut Vec<f64>) {
        let (sums, squares) = costs.up_to(now);
        out.clear();
        out.resize(self.place.len(), 0.0);
        for (list, sum) in self.sums.iter().zip(sums) {
            out.iter_mut().zip(list).for_each(|(moved, s)| *moved += (sum - s) * (sum - s));
        }
        let end = now as f64;
        let rest = self.place.iter().zip(&self.squares).zip(&self.best);
        for (out, ((place, before), best)) in out.iter_mut().zip(rest) {
            *out = best + (squares - before - *out / (end - place)).max(0.0);
        }
    }
}

fn retain<T>(list: &mut Vec<T>, stays: &[bool]) {
    let mut at = stays.iter();
    list.retain(|_| at.next().copied().unwrap_or(true));
}

/// Start of the last segment of the optimum up to each place; as the way for series with holes finds it.
pub(super) fn last_starts(costs: &Costs, penalty: f64, min_len: usize) -> Vec<usize> {
    let (n, m) = (costs.n, min_len);
    let mut best = vec![f64::INFINITY; n + 1];
    let mut last = vec![0; n + 1];
    best[0] = 0.0;
    let mut alive = Candidates {
        start: Vec::new(),
        dies: Vec::new(),
        first_death: usize::MAX,
        place: Vec::new(),
        best: Vec::new(),
        squares: Vec::new(),
        sums: vec![Vec::new(); costs.channels],
    };
    alive.push(0, 0.0, costs);
    let mut totals: Vec<f64> = Vec::new();
    for t in m..=n {
        if t >= 2 * m {
            alive.push(t - m, best[t - m], costs);
        }
        alive.bury(t);
        alive.totals(t, costs, &mut totals);
        let least = totals.iter().copied().fold(f64::INFINITY, |a, b| if b < a { b } else { a });
        if let Some(at) = totals.iter().position(|total| *total == least) {
            (best[t], last[t]) = (least + penalty, alive.start[at]);
        }
        for (dies, total) in alive.dies.iter_mut().zip(&totals) {
            if *total > best[t] && *dies == usize::MAX {
                *dies = t + m;
                alive.first_death = alive.first_death.min(t + m);
            }
        }
    }
    last
}
