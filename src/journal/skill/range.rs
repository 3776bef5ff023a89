//! Between what a share likely lies, by both models: the first one's bell on the scale of logits, and two narrow ones of the second,
//! around what is played where a skill is known and where it is not, each as likely as its model foretold well.
//!
//! Tried on the development players beside it: the first model alone (holds 97, 70, 91 % of logistic, tracing and activation
//! players), its bell made wider by how far the models are apart (97, 92, 92 %, and a third wider on tracing players).

/// A bell on the scale of logits: how likely it is, its middle, its standard deviation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Bell {
    pub weight: f64,
    pub logit: f64,
    pub deviation: f64,
}

/// The logits that are looked at.
const REACH: f64 = 8.0;
/// Halvings of that until it is found to a thousandth.
const HALVINGS: u32 = 14;

/// The share below which these bells lie with a chance of `part`. Their weights sum to 1.
pub(super) fn quantile(bells: &[Bell], part: f64) -> f64 {
    let below = |logit: f64| -> f64 {
        let each = bells
            .iter()
            .map(|bell| bell.weight * normal((logit - bell.logit) / bell.deviation));
        each.sum()
    };
    let (mut low, mut high) = (-REACH, REACH);
    for _ in 0..HALVINGS {
        let middle = (low + high) / 2.0;
        match below(middle) < part {
            true => low = middle,
            false => high = middle,
        }
    }
    1.0 / (1.0 + (-(low + high) / 2.0).exp())
}

/// The normal distribution to a hundredth: a logistic one of the usual scale.
fn normal(deviations: f64) -> f64 {
    1.0 / (1.0 + (-1.702 * deviations).exp())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_share_lies_in_its_bell_or_in_the_likelier_one_of_two() {
        let bell = |weight, logit, deviation| Bell {
            weight,
            logit,
            deviation,
        };
        #[rustfmt::skip]
        let cases = [
            (&[bell(1.0, 0.0, 1.0)][..],                          0.5,  0.50),
            (&[bell(1.0, 0.0, 1.0)],                              0.95, 0.85),
            (&[bell(1.0, 2.0, 0.1)],                              0.05, 0.86),
            (&[bell(0.5, -2.0, 0.1), bell(0.5, 2.0, 0.1)],        0.05, 0.11),
            (&[bell(0.5, -2.0, 0.1), bell(0.5, 2.0, 0.1)],        0.95, 0.89),
            (&[bell(0.04, -2.0, 0.1), bell(0.96, 2.0, 0.1)],      0.05, 0.84),
        ];
        for (bells, part, expected) in cases {
            let found = quantile(bells, part);
            assert!((found - expected).abs() < 0.01, "{bells:?} {part}: {found}");
        }
    }
}
