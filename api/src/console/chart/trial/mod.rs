//! One trial on one temperature axis: what every strip showed at every step, and beneath it the band, the set point and
//! what the trial says of both edges.

#[cfg(test)]
mod tests;

use askama::Template;
use askama::filters::HtmlSafe;
use lapwatch_domain::acceptance::JudgedCoupon;
use lapwatch_domain::edges::{EdgeClass, EdgeEvidence};
use lapwatch_domain::quantity::Temperature;
use lapwatch_domain::trial::Evaluation;

use super::{Linear, Px, text_width};
use crate::console::mark::Mark;
use crate::console::show::{Scale, whole};
use crate::console::words;

/// Narrow, so that its words can still be read where a phone shows all of it.
const WIDTH: f64 = 470.0;
const LEFT: f64 = 106.0;
const RIGHT: f64 = 464.0;
/// Room for a number beyond the end of a span that is cut off.
const INSET: f64 = 40.0;
const STRIP: f64 = 20.0;
const HEAD: f64 = 34.0;
const LANE: f64 = 30.0;
/// How far an open edge runs before it has faded.
const FADE: f64 = 70.0;

/// The drawing.
#[derive(Debug, Template)]
#[template(path = "parts/trial.svg", escape = "html")]
pub(in crate::console) struct TrialChart {
    description: String,
    width: Px,
    height: Px,
    left: Px,
    right: Px,
    plot_width: Px,
    axis_y: Px,
    axis_label_y: Px,
    unit_x: Px,
    symbol: &'static str,
    steps: Vec<StepMark>,
    lanes: Vec<Lane>,
    set_point: Option<SetPointMark>,
}

impl HtmlSafe for TrialChart {}

/// A step with its strips.
#[derive(Debug)]
struct StepMark {
    x: Px,
    label: String,
    /// Whether its label has room.
    labelled: bool,
    strips: Vec<StripMark>,
}

/// One strip.
#[derive(Debug)]
struct StripMark {
    x: Px,
    y: Px,
    class: &'static str,
    path: &'static str,
    tip: &'static str,
}

/// A line under the axis.
#[derive(Debug)]
struct Lane {
    class: &'static str,
    name: &'static str,
    name_y: Px,
    y: Px,
    body: Body,
}

/// What lies in a lane.
#[derive(Debug)]
enum Body {
    /// From here to there, with the middle if there is one; words at both ends.
    Span { x: Px, end: Px, middle: Option<Px>, low: String, high: String, low_x: Px, high_x: Px },
    /// Known at one end only: a cap there, fading towards the open side.
    Open {
        cap: Px,
        fade_x: Px,
        fade_width: Px,
        towards: &'static str,
        text: String,
        text_x: Px,
        anchor: &'static str,
    },
    /// Nothing to draw; why.
    Nothing { text: &'static str },
}

/// The set point, through everything.
#[derive(Debug)]
struct SetPointMark {
    x: Px,
    text: String,
    text_x: Px,
    anchor: &'static str,
    /// The line leaves out the axis' numbers: from the top to here,
    upper_end: Px,
    /// and from here
    lower_start: Px,
    /// to here.
    bottom: Px,
}

impl TrialChart {
    /// The drawing of an evaluated trial; `None` when nothing was welded.
    pub(in crate::console) fn new(evaluation: &Evaluation, scale: Scale) -> Option<Self> {
        let axis = axis(evaluation, scale)?;
        let steps = &evaluation.judged.steps;
        let tallest = steps.iter().map(|step| strips_at(evaluation, step.temperature).count()).max()?;
        #[expect(clippy::cast_precision_loss, reason = "a handful of strips")]
        let axis_y = HEAD + STRIP * tallest as f64 + 8.0;
        let lane_y = |lane: f64| axis_y + 52.0 + LANE * lane;
        let evidence = &evaluation.evidence;
        let set_point = evaluation.set_point.as_ref().ok();
        Some(Self {
            description: description(evaluation, scale),
            width: Px(WIDTH),
            height: Px(lane_y(2.0) + 22.0),
            left: Px(LEFT),
            right: Px(RIGHT),
            plot_width: Px(RIGHT - LEFT),
            axis_y: Px(axis_y),
            axis_label_y: Px(axis_y + 19.0),
            unit_x: Px(LEFT - 10.0),
            symbol: scale.symbol(),
            steps: step_marks(evaluation, &axis, scale, axis_y),
            lanes: vec![
                Lane::new("band", "Band", lane_y(0.0), band(evaluation, &axis, scale)),
                Lane::new("lower-edge", "Lower edge", lane_y(1.0), edge(&evidence.lower, &axis, scale)),
                Lane::new("upper-edge", "Upper edge", lane_y(2.0), edge(&evidence.upper, &axis, scale)),
            ],
            set_point: set_point.map(|point| {
                let text = format!("set {}", scale.temperature(point.to_set));
                SetPointMark::new(axis.held(scale.value(point.to_set)), text, axis_y, lane_y(0.0) + 12.0)
            }),
        })
    }
}

impl Lane {
    fn new(class: &'static str, name: &'static str, y: f64, body: Body) -> Self {
        Self { class, name, name_y: Px(y + 4.5), y: Px(y), body }
    }
}

impl SetPointMark {
    fn new(x: Px, text: String, axis_y: f64, bottom: f64) -> Self {
        let fits = x.0 + 10.0 + text_width(&text) * 1.2 < RIGHT;
        let (text_x, anchor) = if fits { (x.0 + 13.0, "start") } else { (x.0 - 13.0, "end") };
        Self {
            x,
            text,
            text_x: Px(text_x),
            anchor,
            upper_end: Px(axis_y + 5.0),
            lower_start: Px(axis_y + 25.0),
            bottom: Px(bottom),
        }
    }
}

/// The axis: every step and the band, with air; edges that lie beyond it are cut off.
fn axis(evaluation: &Evaluation, scale: Scale) -> Option<Linear> {
    let steps = evaluation.judged.steps.iter().map(|step| step.temperature);
    let band = evaluation.band.iter().flat_map(|band| [band.low, band.high]);
    let medians = [&evaluation.evidence.lower, &evaluation.evidence.upper]
        .into_iter()
        .filter_map(|edge| edge.estimate)
        .map(|estimate| estimate.q500);
    let values: Vec<f64> = steps.chain(band).chain(medians).map(|t| scale.value(t)).collect();
    let low = values.iter().copied().reduce(f64::min)?;
    let high = values.iter().copied().reduce(f64::max)?;
    let air = ((high - low) * 0.06).max(6.0);
    Some(Linear::new((low - air, high + air), (LEFT + INSET, RIGHT - INSET)))
}

fn strips_at(evaluation: &Evaluation, temperature: Temperature) -> impl Iterator<Item = Mark> + '_ {
    // Steps gather coupons whose settings differ by less than a display can show.
    let here = move |coupon: &&JudgedCoupon| {
        evaluation.judged.step_at(coupon.at_held_speed).is_some_and(|step| step.temperature == temperature)
    };
    let coupons = evaluation.judged.coupons.iter().filter(here);
    coupons.flat_map(|coupon| &coupon.specimens).map(|specimen| Mark::reading(specimen.reading))
}

fn step_marks(evaluation: &Evaluation, axis: &Linear, scale: Scale, axis_y: f64) -> Vec<StepMark> {
    let mut label_end = f64::NEG_INFINITY;
    evaluation
        .judged
        .steps
        .iter()
        .map(|step| {
            let x = axis.place(scale.value(step.temperature));
            let label = whole(scale.value(step.temperature));
            let half = text_width(&label) / 2.0;
            let labelled = x.0 - half > label_end;
            if labelled {
                label_end = x.0 + half + 6.0;
            }
            let mut y = axis_y - 4.0;
            let strips = strips_at(evaluation, step.temperature)
                .map(|mark| {
                    y -= STRIP;
                    StripMark {
                        x: Px(x.0 - 8.0),
                        y: Px(y),
                        class: mark.class,
                        path: mark.path,
                        tip: mark.word,
                    }
                })
                .collect();
            StepMark { x, label, labelled, strips }
        })
        .collect()
}

fn band(evaluation: &Evaluation, axis: &Linear, scale: Scale) -> Body {
    let Some(band) = &evaluation.band else { return Body::Nothing { text: "no band found" } };
    span(axis, scale, (band.low, None, band.high))
}

fn edge(evidence: &EdgeEvidence, axis: &Linear, scale: Scale) -> Body {
    let bound = evidence.bound.map(|bound| (axis.held(scale.value(bound)), scale.temperature(bound)));
    match (evidence.class, evidence.estimate, bound) {
        (EdgeClass::Bracketed, Some(estimate), _) => {
            span(axis, scale, (estimate.q025, Some(estimate.q500), estimate.q975))
        }
        (EdgeClass::OpenAbove, _, Some((cap, bound))) => Body::Open {
            cap,
            fade_x: cap,
            fade_width: Px(FADE),
            towards: "right",
            text: format!("above {bound}"),
            text_x: Px(cap.0 - 7.0),
            anchor: "end",
        },
        (EdgeClass::OpenBelow, _, Some((cap, bound))) => Body::Open {
            cap,
            fade_x: Px(cap.0 - FADE),
            fade_width: Px(FADE),
            towards: "left",
            text: format!("below {bound}"),
            text_x: Px(cap.0 + 7.0),
            anchor: "start",
        },
        (EdgeClass::OpenAbove, ..) => Body::Nothing { text: "above every step tried" },
        (EdgeClass::OpenBelow, ..) => Body::Nothing { text: "below every step tried" },
        (EdgeClass::Bracketed | EdgeClass::None, ..) => Body::Nothing { text: "not told by these strips" },
    }
}

fn span(
    axis: &Linear,
    scale: Scale,
    (low, middle, high): (Temperature, Option<Temperature>, Temperature),
) -> Body {
    let place = |temperature| axis.held(scale.value(temperature));
    let (x, end) = (place(low), place(high));
    Body::Span {
        x,
        end,
        middle: middle.map(place),
        low: whole(scale.value(low)),
        high: whole(scale.value(high)),
        low_x: Px(x.0 - 7.0),
        high_x: Px(end.0 + 7.0),
    }
}

/// What the drawing shows, for those who do not see it.
fn description(evaluation: &Evaluation, scale: Scale) -> String {
    let step = |step: &lapwatch_domain::acceptance::Step| {
        let counts = step.counts;
        let parts =
            [(counts.cold, "cold"), (counts.sound, "sound"), (counts.hot, "hot"), (counts.other(), "other")];
        let words: Vec<String> = parts
            .iter()
            .filter(|(count, _)| *count > 0)
            .map(|(count, word)| format!("{count} {word}"))
            .collect();
        format!("at {} {}", scale.temperature(step.temperature), words.join(", "))
    };
    let steps: Vec<String> = evaluation.judged.steps.iter().map(step).collect();
    let band = evaluation.band.as_ref().map_or_else(
        || "no band".to_owned(),
        |band| {
            format!(
                "band {} to {}, ended by {} and {}",
                scale.temperature(band.low),
                scale.temperature(band.high),
                words::limit(band.low_limited_by),
                words::limit(band.high_limited_by)
            )
        },
    );
    format!("Strips {}; {band}.", steps.join("; "))
}
