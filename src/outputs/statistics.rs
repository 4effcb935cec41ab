//! Every statistic the folio prints: in plain words, in symbols, and where the
//! method is published. The method page tells them in this order.

use super::composer::Composer;
use super::views::StatisticView;
use crate::measure::drift::BASE;
use crate::words::{say, text};

/// The statistics, worded for this lab's coverage and limits.
pub(super) fn statistics(composer: &Composer<'_>) -> Vec<StatisticView> {
    let coverage = composer.coverage();
    let limit = composer.percent(composer.edition.rules.borderline_below);
    let least = composer.edition.lab.protocol.minimum_shoes;
    let line = |name: String, plain: String, symbols: &str, source: &str| StatisticView {
        name,
        plain,
        symbols: composer.say(symbols, &[]),
        source: composer.say(source, &[]),
    };
    vec![
        line(
            say!(composer, "Mean and scatter of trials"),
            say!(
                composer,
                "Each quantity is read several times on each specimen. The value is the mean of the specimens' means; the scatter is how far single readings lie about their mean."
            ),
            "x\u{304} = Σ xⱼ / n;  s² = Σ (xⱼ − x\u{304})² / (n − 1);  x = Σ x\u{304}ᵢ / m",
            "JCGM 100:2008, 4.2",
        ),
        line(
            say!(composer, "Pooled repeatability"),
            say!(
                composer,
                "Three trials say little of their own scatter, so the scatter of many earlier shoes stands in for it, unless this shoe's trials scatter significantly more."
            ),
            text!("u = s_p / √n;  s is taken instead of s_p where P(F > s²/s_p²) < 1 %"),
            "JCGM 100:2008, 4.2.4; NIST/SEMATECH e-Handbook, 1.3.5.9",
        ),
        line(
            say!(composer, "What the instrument adds"),
            say!(
                composer,
                "A display shows steps, and a calibration is itself not exact. Both are counted in. Two quantities read on one instrument share its calibration, and what they share is added or cancelled with its sign where they meet in one finding; their resolutions are taken as independent."
            ),
            text!(
                "u_res = step / √12;  u_cal = U_cert / k_cert;  u²(y) = Σ over causes of (Σ cᵢ·uᵢ)²"
            ),
            "JCGM 100:2008, 4.3.3, 4.3.7 and 5.2.2",
        ),
        line(
            say!(composer, "Expanded uncertainty"),
            say!(
                composer,
                "The number after ± is wide enough that the true value lies within it with a chance of {coverage}. A quantity is a plain sum of what is listed above, so the errors of its parts add up exactly as the formula for u has it; only the factor from u to U can fail to fit, where a few trials stand beside other causes or one coarse display is most of it. There the sum is drawn at random, and where the draws part from the factor by more than a twentieth of u their half-width is printed.",
                coverage = coverage
            ),
            text!(
                "x = Σ x\u{304}ᵢ/m + c + Σ δⱼ is linear, so u² = Σ uᵢ² has no higher terms;  ν = u⁴ / Σ (uᵢ⁴ / νᵢ);  U = t(ν)·u;  beside fewer than 20 degrees of freedom U = √(Σ (t(νᵢ)·uᵢ)²);  where |U − U_draws| > u/20, U = U_draws"
            ),
            text!(
                "JCGM 100:2008, 5.1.2, 6.2 and G.4; JCGM 101:2008, 5.7 and 7.7 (addition in quadrature: common practice, no source)"
            ),
        ),
        line(
            say!(composer, "The interval of a score"),
            say!(
                composer,
                "A scale bends at its points and stops at its ends, so a score is not always in the middle of its interval; the number after ± is then the wider side, and the picture shows both."
            ),
            text!(
                "[s(x − U), s(x + U)] for a scale; the ends of Σ wᵢ·s(xᵢ) laid out as a grid for a blend within reach of a bend, else s ± k·u(s)"
            ),
            "JCGM 101:2008, 5.3 and 7.7",
        ),
        line(
            say!(composer, "The interval of a worked-out number"),
            say!(
                composer,
                "A ratio bends a little within the uncertainty of its figures; its interval leans accordingly."
            ),
            "cᵢ = (f(xᵢ + uᵢ) − f(xᵢ − uᵢ)) / 2uᵢ;  y + ½·tr(HC) + u·(±k + γ·(k² − 1)/6)",
            text!("JCGM 100:2008, 5.1.2 note and 5.1.3 note 2; Cornish and Fisher 1937"),
        ),
        line(
            say!(composer, "How the intervals are checked"),
            say!(
                composer,
                "Every interval of the tool's own example laboratory was compared with one from a million random draws; the ends agree to a twentieth of the standard uncertainty. Where the usual formula may not fit (a few trials beside other causes, a coarse display, a denominator near zero, a corner) random draws are taken, and where they differ by more they are what is stated; the review then says so. The same figures always give the same draws."
            ),
            text!("|y_end − y_draws| ≤ u / 20, else [y_draws at ½(1 − p), y_draws at ½(1 + p)]"),
            text!("JCGM 101:2008, 7.7 and clause 8"),
        ),
        line(
            say!(composer, "Fits and advice"),
            say!(
                composer,
                "A condition is tried at the figures themselves, at both ends of each figure's printed interval, at each number within that the figure is compared with and midway between these, and, for four figures or fewer, at all of these together (at the corners alone where that is more than 1000 points). If it always comes out the same the answer is sure, else it is close. Each figure is moved as if it had nothing in common with the others: the calibration of one instrument behind two of them, or one quantity behind two findings, would move them together, and corners that no such move reaches are tried all the same. So what figures share can only make an answer close that is sure. Two things can be missed: with five figures or more, or too many points, not all are moved together, and a condition on something computed from figures may change and change back between the points tried."
            ),
            text!(
                "sure where C(x) = C(y) for each y with one yᵢ ∈ {lowᵢ, highᵢ, the constants within, the middles between} and the others at xᵢ, and, for n ≤ 4, for each y with all yᵢ among these; covariances u(xᵢ, xⱼ) are not used"
            ),
            text!("the laboratory's own decision rule, of the kind of JCGM 106:2012, 8"),
        ),
        line(
            say!(composer, "Band, chance and the decision rule"),
            say!(
                composer,
                "The band stated is the one the score lies in: simple acceptance, no guard band. Beside it stands the chance that the true value lies in it. Under {limit} the finding is called borderline and the likeliest other band is named.",
                limit = limit
            ),
            text!("P(band) = F_ν((upper − x)/u) − F_ν((lower − x)/u), a flat prior"),
            "JCGM 106:2012, 7 and 8.2; JCGM 101:2008, 6.4.9",
        ),
        line(
            say!(composer, "Outliers"),
            say!(
                composer,
                "A reading that stands apart from its fellows is named, and still counts. It is left out only by a written reason, which the page shows."
            ),
            text!("G = max |xⱼ − x\u{304}| / s against its critical value at 5 %, n ≥ 3"),
            "Grubbs, Technometrics 11, 1969; NIST/SEMATECH e-Handbook, 1.3.5.17.1",
        ),
        line(
            say!(composer, "Size"),
            say!(
                composer,
                "A larger shoe weighs more. Quantities with a step a millimetre are carried to the reference size, and the review says by how much."
            ),
            text!("x_ref = x + step · (L_ref − L), L the Mondopoint length in mm"),
            text!("ISO 9407:2019 for the length; the step is the laboratory's"),
        ),
        line(
            say!(composer, "Place among the category"),
            say!(
                composer,
                "The share of shoes of the category that score lower, counting those level by half; none under {least} shoes.",
                least = least
            ),
            "100 · (number below + ½ · number level) / n",
            text!("mid-rank percentile, common practice, no source"),
        ),
        line(
            say!(composer, "Near shoes"),
            say!(
                composer,
                "Shoes are near that are alike in all that is put on a scale, each quantity measured in the spread of its category. Two differ in a quantity where they lie farther apart than both uncertainties together."
            ),
            text!("d² = Σ ((xᵢ − yᵢ) / (1.4826·MAD))²;  different where |x − y| > √(U_x² + U_y²)"),
            text!("Rousseeuw and Croux, JASA 88, 1993, for the scale"),
        ),
        line(
            say!(composer, "Curves"),
            say!(
                composer,
                "A loop of load against travel gives what was put in and what came back; of several cycles the last is used."
            ),
            text!("E_in = ∫ F dx up;  E_back = ∫ F dx down;  return = E_back / E_in"),
            text!(
                "trapezoid sums; rising branches by isotonic least squares (Barlow and others 1972)"
            ),
        ),
        line(
            say!(composer, "The bench, day by day"),
            say!(
                composer,
                "The laboratory's own control shoe is measured on the days others are. Its first {base} readings set the limits; a day beyond them, or one that completes a run, is named in every review that used it.",
                base = BASE
            ),
            text!("x\u{304} ± 3·MR\u{304}/d₂, d₂ = 2/√π;  upper limit of MR: D₄·MR\u{304}"),
            text!("NIST/SEMATECH e-Handbook, 6.3.2.2; runs: Western Electric 1956 and Nelson 1984"),
        ),
        line(
            say!(composer, "Gauge study"),
            say!(
                composer,
                "Several people measure several parts several times; the analysis tells how much of the spread is the measuring."
            ),
            text!(
                "σ²_r = MS_E;  σ²_o = (MS_O − MS_E)/(p·r);  kinds told apart = ⌊1.41·σ_part/σ_gauge⌋"
            ),
            "Burdick, Borror and Montgomery, J. Quality Technology 35, 2003",
        ),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::output::Surroundings;
    use crate::outputs::testing;

    #[test]
    fn every_statistic_is_told_in_words_in_symbols_and_with_its_source() {
        let edition = testing::edition();
        let surroundings = Surroundings::default();
        let told = statistics(&Composer::new(&edition, &surroundings));
        for statistic in &told {
            assert!(statistic.plain.ends_with('.'), "{}", statistic.name);
            assert!(!statistic.symbols.is_empty() && !statistic.source.is_empty());
        }
        let rule = told
            .iter()
            .find(|one| one.name.contains("decision rule"))
            .unwrap();
        assert!(rule.plain.contains("simple acceptance") && rule.plain.contains("80 %"));
        assert!(rule.source.contains("JCGM 106"));
    }
}
