//! Order statistics by counting: a tree over ranks for sliding windows, and selection among all pairs.
//!
//! The tree is the binary indexed tree of Fenwick (Softw. Pract. Exp. 24 (1994) 327-336): insert, remove and find the
//! k-th in `log2 n` steps. Selection among `n^2/2` pairs needs only a count of the pairs below a bound: bisecting the
//! bound over the ordered bit patterns of `f64` reaches the exact pair value within 64 counts.

/// Samples ranked once, of which a changing subset is in the window.
#[derive(Debug)]
pub(crate) struct Ranked {
    /// Rank of each sample, 1-based; 0 marks a missing sample.
    rank: Vec<usize>,
    /// Usable values in rising order.
    sorted: Vec<f64>,
    tree: Vec<u32>,
    inside: usize,
    top: usize,
}

impl Ranked {
    /// Ranks the usable values of `x`; the window starts empty.
    pub(crate) fn new(x: &[f64]) -> Self {
        let mut order: Vec<usize> = (0..x.len()).filter(|&i| x[i].is_finite()).collect();
        order.sort_unstable_by(|&a, &b| x[a].total_cmp(&x[b]).then(a.cmp(&b)));
        let mut rank = vec![0; x.len()];
        for (r, &i) in order.iter().enumerate() {
            rank[i] = r + 1;
        }
        let n = order.len();
        let top = if n == 0 { 0 } else { 1usize << n.ilog2() };
        Self { rank, sorted: order.iter().map(|&i| x[i]).collect(), tree: vec![0; n + 1], inside: 0, top }
    }

    /// Puts sample `i` into the window; a missing one is ignored.
    pub(crate) fn insert(&mut self, i: usize) {
        let mut r = self.rank[i];
        if r == 0 {
            return;
        }
        self.inside += 1;
        while r < self.tree.len() {
            self.tree[r] += 1;
            r += r & r.wrapping_neg();
        }
    }

    /// Takes sample `i` out of the window; it must be inside.
    pub(crate) fn remove(&mut self, i: usize) {
        let mut r = self.rank[i];
        if r == 0 {
            return;
        }
        self.inside -= 1;
        while r < self.tree.len() {
            self.tree[r] -= 1;
            r += r & r.wrapping_neg();
        }
    }

    /// Median of the window, NaN if it is empty.
    pub(crate) fn median(&self) -> f64 {
        match self.inside {
            0 => f64::NAN,
            n if n % 2 == 1 => self.kth(n / 2 + 1),
            n => 0.5 * self.kth(n / 2) + 0.5 * self.kth(n / 2 + 1),
        }
    }

    /// The k-th smallest value in the window, `1 <= k <= inside`.
    fn kth(&self, k: usize) -> f64 {
        let (mut pos, mut left, mut step) = (0, k as u32, self.top);
        while step > 0 {
            if pos + step < self.tree.len() && self.tree[pos + step] < left {
                pos += step;
                left -= self.tree[pos];
            }
            step /= 2;
        }
        self.sorted.get(pos).copied().unwrap_or(f64::NAN)
    }
}

/// A whole number that orders like the finite float `v`.
fn to_ordered(v: f64) -> i64 {
    let bits = v.to_bits() as i64;
    if bits < 0 { i64::MIN - bits } else { bits }
}

fn from_ordered(key: i64) -> f64 {
    let bits = if key < 0 { i64::MIN - key } else { key };
    f64::from_bits(bits as u64)
}

/// The k-th smallest (1-based) of numbers in `low..=high` of which `count(t)` do not exceed `t`.
pub(crate) fn kth_of_pairs(k: usize, low: f64, high: f64, count: impl Fn(f64) -> usize) -> f64 {
    let (mut lo, mut hi) = (to_ordered(low + 0.0), to_ordered(high + 0.0));
    while lo < hi {
        let mid = lo + ((hi as i128 - lo as i128) / 2) as i64;
        if count(from_ordered(mid)) >= k {
            hi = mid;
        } else {
            lo = mid + 1;
        }
    }
    from_ordered(lo)
}
