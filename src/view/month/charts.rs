//! The charts of the page, as SVG whose colours follow those of the page.

use maud::{Markup, html};

use crate::verify::month::{Month, Period, REACHED_HPA, Spread, Surface};
use crate::view::diagram::minus;

/// A picture with a title and a text that says what it shows.
fn chart(id: &str, title: &str, about: &str, height: u32, body: Markup) -> Markup {
    let (title_id, about_id) = (format!("{id}-title"), format!("{id}-about"));
    let labels = format!("{title_id} {about_id}");
    html! {
        div class="wide" {
            svg xmlns="http://www.w3.org/2000/svg" class="chart" role="img" aria-labelledby=(labels) viewBox={ "0 0 700 " (height) } {
                title id=(title_id) { (title) }
                desc id=(about_id) { (about) }
                (body)
            }
        } "\n"
    }
}

/// A number of the picture, to a tenth of its unit.
fn at(value: f64) -> String {
    let tenths = (value * 10.0).round() / 10.0;
    // No minus before nothing.
    format!("{}", tenths + 0.0)
}

fn line(class: &str, from: (f64, f64), to: (f64, f64)) -> Markup {
    html! {
        line class=(class) x1=(at(from.0)) y1=(at(from.1)) x2=(at(to.0)) y2=(at(to.1)) { }
    }
}

fn words(class: &str, x: f64, y: f64, text: &str) -> Markup {
    html! { text class=(class) x=(at(x)) y=(at(y)) { (text) } }
}

/// A scale from values to the picture.
#[derive(Clone, Copy)]
struct Axis {
    from: f64,
    to: f64,
    low: f64,
    high: f64,
}

impl Axis {
    fn at(self, value: f64) -> f64 {
        let span = self.to - self.from;
        let part = if span == 0.0 {
            0.5
        } else {
            (value - self.from) / span
        };
        self.low + part * (self.high - self.low)
    }
}

/// The highest point of each ascent by its day, on a logarithmic axis of pressure.
pub(super) fn tops(month: &Month, period: Option<Period>) -> Markup {
    let days = u32::try_from(period.map_or(31, |p| p.days().count())).unwrap_or(31);
    let x = Axis {
        from: 1.0,
        to: f64::from(days) + 1.0,
        low: 60.0,
        high: 690.0,
    };
    let tops: Vec<(f64, f64)> = month
        .list
        .iter()
        .filter_map(|one| {
            let time = one.standard_time;
            let day = f64::from(time.day()) + f64::from(time.hour()) / 24.0;
            Some((day, one.top_hpa?.max(0.1)))
        })
        .collect();
    let least = tops.iter().map(|(_, top)| *top).fold(8.0, f64::min);
    let greatest = tops.iter().map(|(_, top)| *top).fold(120.0, f64::max);
    let y = Axis {
        from: greatest.ln(),
        to: least.ln(),
        low: 165.0,
        high: 15.0,
    };
    let part_a = REACHED_HPA.into_iter().fold(0.0, f64::max);
    let about = format!(
        "One mark for each of {} ascents at its day and lowest pressure; a square is an ascent \
         that ended below {part_a} hPa. The table of ascents has the figures.",
        tops.len()
    );
    let body = html! {
        @for hpa in REACHED_HPA {
            @let at_y = y.at(hpa.ln());
            (line("mark", (x.low, at_y), (x.high, at_y)))
            (words("end soft", x.low - 4.0, at_y + 4.0, &format!("{hpa} hPa")))
        }
        (line("axis", (x.low, 175.0), (x.high, 175.0)))
        @for day in (1..=days).step_by(5) {
            (words("mid soft", x.at(f64::from(day)), 190.0, &day.to_string()))
        }
        @for (day, top) in &tops {
            @let (px, py) = (x.at(*day), y.at(top.ln()));
            @if *top > part_a {
                rect class="low" x=(at(px - 3.5)) y=(at(py - 3.5)) width="7" height="7" { }
            } @else {
                circle class="dot" cx=(at(px)) cy=(at(py)) r="3" { }
            }
        }
    };
    chart(
        "chart-tops",
        "Lowest pressure of each ascent by day",
        &about,
        200,
        body,
    )
}

/// Mean temperature by pressure beside the month before, and the changes as shares of
/// their limits.
pub(super) fn levels(month: &Month) -> Markup {
    let spreads = |level: &Surface| [level.temperature_c.now, level.temperature_c.before];
    let means = month.levels.iter().flat_map(spreads).flatten();
    let reach = |one: Spread| {
        let deviation = one.deviation.unwrap_or(0.0);
        [one.mean - deviation, one.mean + deviation]
    };
    let ends: Vec<f64> = means.flat_map(reach).collect();
    let (least, greatest) = (
        ends.iter().copied().fold(f64::INFINITY, f64::min),
        ends.iter().copied().fold(f64::NEG_INFINITY, f64::max),
    );
    let x = Axis {
        from: (least.min(greatest) / 10.0).floor() * 10.0,
        to: (greatest.max(least) / 10.0).ceil() * 10.0,
        low: 60.0,
        high: 400.0,
    };
    let pressures = month
        .levels
        .iter()
        .map(|level| f64::from(level.pressure_hpa));
    let y = Axis {
        from: pressures.clone().fold(1.0, f64::max).ln(),
        to: pressures.fold(f64::INFINITY, f64::min).ln(),
        low: 265.0,
        high: 30.0,
    };
    let share = Axis {
        from: -1.5,
        to: 1.5,
        low: 450.0,
        high: 690.0,
    };
    let place = |level: &Surface| y.at(f64::from(level.pressure_hpa).ln());
    let curve = |of: fn(&Surface) -> Option<Spread>| -> Vec<(f64, f64)> {
        let points = month.levels.iter();
        points
            .filter_map(|level| Some((x.at(of(level)?.mean), place(level))))
            .collect()
    };
    let (now, before) = (
        curve(|level| level.temperature_c.now),
        curve(|level| level.temperature_c.before),
    );
    let about = format!(
        "On the left the mean temperature of {} at each surface, with one standard deviation to \
         either side (full line), and that of {} (dashes). On the right the changes of height \
         (squares) and temperature (dots) as shares of their limits. The table has the figures.",
        month.month, month.compared_with
    );
    // From the top down, and none over another.
    let mut labels: Vec<(u16, f64)> = Vec::new();
    for level in month.levels.iter().rev() {
        if labels
            .last()
            .is_none_or(|(_, above)| place(level) - above > 11.0)
        {
            labels.push((level.pressure_hpa, place(level)));
        }
    }
    let ticks = [x.from, f64::midpoint(x.from, x.to), x.to];
    let body = html! {
        (words("", 60.0, 14.0, &format!("mean temperature, °C: {} and {} (dashes)", month.month, month.compared_with)))
        (words("", 450.0, 14.0, "change as a share of its limit"))
        @for level in &month.levels {
            (line("axis", (x.low, place(level)), (x.high, place(level))))
        }
        @for (hpa, at_y) in labels {
            (words("end soft", x.low - 4.0, at_y + 4.0, &hpa.to_string()))
        }
        @if least.is_finite() { @for tick in ticks {
            (words("mid soft", x.at(tick), 285.0, &minus(tick, 0)))
        } }
        (path("before", &before))
        @for (px, py) in &before { circle class="ring" cx=(at(*px)) cy=(at(*py)) r="3" { } }
        @for level in &month.levels { @if let Some(spread) = level.temperature_c.now {
            @let [low, high] = reach(spread);
            (line("spread", (x.at(low), place(level)), (x.at(high), place(level))))
        } }
        (path("now", &now))
        @for (px, py) in &now { circle class="dot" cx=(at(*px)) cy=(at(*py)) r="3" { } }
        (line("axis", (share.at(0.0), y.low + 5.0), (share.at(0.0), y.high - 5.0)))
        @for limit in [-1.0, 1.0] {
            (line("limit", (share.at(limit), y.low + 5.0), (share.at(limit), y.high - 5.0)))
            (words("mid soft", share.at(limit), 285.0, &minus(limit, 0)))
        }
        @for level in &month.levels { (changes(level, share, place(level))) }
    };
    chart(
        "chart-levels",
        "Standard surfaces beside the month before",
        &about,
        292,
        body,
    )
}

/// The changes at a surface; one outside the panel stands at its edge.
fn changes(level: &Surface, share: Axis, y: f64) -> Markup {
    let of = |difference: Option<f64>, limit: Option<f64>| {
        let share = difference? / limit?;
        Some(share.clamp(-1.5, 1.5))
    };
    let (height, temperature) = (&level.height_gpm, &level.temperature_c);
    html! {
        @if let Some(part) = of(height.difference, height.limit) {
            rect class="ring" x=(at(share.at(part) - 3.5)) y=(at(y - 3.5)) width="7" height="7" { }
        }
        @if let Some(part) = of(temperature.difference, temperature.limit) {
            circle class="dot" cx=(at(share.at(part))) cy=(at(y)) r="3" { }
        }
    }
}

fn path(class: &str, points: &[(f64, f64)]) -> Markup {
    let points = points.iter().map(|(x, y)| format!("{},{}", at(*x), at(*y)));
    let points: Vec<String> = points.collect();
    html! { polyline class=(class) points=(points.join(" ")) { } }
}
