//! Chances of counts: the tails that verdicts about switches go by.

/// `p` to the power of `n`.
pub(super) fn to_the(p: f64, n: u32) -> f64 {
    p.powf(f64::from(n))
}

/// The chance of `k` or more successes in `n` tries of chance `p` each: the upper tail of the binomial
/// distribution, summed from the largest term so that nothing is lost.
#[expect(clippy::cast_precision_loss, reason = "far fewer than 2^53 tries")]
pub(super) fn at_least(k: u64, n: u64, p: f64) -> f64 {
    if k == 0 || p >= 1.0 {
        return 1.0;
    }
    if k > n || p <= 0.0 {
        return 0.0;
    }
    let (n_f, odds) = (n as f64, p / (1.0 - p));
    // Terms relative to that at the mean or at k, whichever is larger: there the tail is highest.
    let mean = ((n_f + 1.0) * p).floor();
    let top = mean.max(k as f64).min(n_f);
    let mut sum = 1.0;
    let mut term = 1.0;
    let mut i = top;
    while i < n_f && term > sum * 1e-18 {
        term *= (n_f - i) / (i + 1.0) * odds;
        sum += term;
        i += 1.0;
    }
    let mut term = 1.0;
    let mut i = top;
    while i > k as f64 && term > sum * 1e-18 {
        term *= i / (n_f - i + 1.0) / odds;
        sum += term;
        i -= 1.0;
    }
    let log_top = log_choose(n_f, top) + top * p.ln() + (n_f - top) * (-p).ln_1p();
    (log_top + sum.ln()).exp().min(1.0)
}

/// Logarithm of n over k.
fn log_choose(n: f64, k: f64) -> f64 {
    log_factorial(n) - log_factorial(k) - log_factorial(n - k)
}

/// Logarithm of n!, n whole: the product itself for small n, else Stirling's series (NIST DLMF
/// 5.11.1, four terms of it: better than 1e-15 from 16 on).
fn log_factorial(n: f64) -> f64 {
    if n < 16.0 {
        let mut product = 1.0;
        let mut factor = 2.0;
        while factor <= n {
            product *= factor;
            factor += 1.0;
        }
        return f64::ln(product);
    }
    let x = n + 1.0;
    let r = 1.0 / (x * x);
    let series = (1.0 / 12.0 - r * (1.0 / 360.0 - r * (1.0 / 1_260.0 - r / 1_680.0))) / x;
    (x - 0.5) * x.ln() - x + 0.5 * (2.0 * std::f64::consts::PI).ln() + series
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(value: f64, expected: f64) {
        let error = (value / expected - 1.0).abs();
        assert!(error < 1e-9, "{value:e} instead of {expected:e}");
    }

    /// `tests/vectors/chances.json`, worked out by scipy.stats (`tests/outside/test_switches.py`).
    #[test]
    fn tails_are_those_of_scipy() {
        let text = include_str!("../../tests/vectors/chances.json");
        let all: serde_json::Value = serde_json::from_str(text).unwrap();
        let rows = all["binomial"].as_array().unwrap();
        assert!(rows.len() > 50);
        for row in rows {
            let (k, n) = (row[0].as_u64().unwrap(), row[1].as_u64().unwrap());
            let p = row[2].as_f64().unwrap();
            near(at_least(k, n, p), row[3].as_f64().unwrap());
        }
        for row in all["nothing"].as_array().unwrap() {
            let n = u32::try_from(row[0].as_u64().unwrap()).unwrap();
            let p = row[1].as_f64().unwrap();
            near(to_the(1.0 - p, n), row[2].as_f64().unwrap());
        }
    }

    #[test]
    fn the_ends_are_certain() {
        near(at_least(0, 7, 0.2), 1.0);
        near(at_least(3, 7, 1.0), 1.0);
        assert!(at_least(8, 7, 0.2) < f64::MIN_POSITIVE);
        assert!(at_least(1, 7, 0.0) < f64::MIN_POSITIVE);
    }
}
