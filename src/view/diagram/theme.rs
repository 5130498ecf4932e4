//! Colours and line styles, for light and for dark.
//!
//! Coloured lines have the hues of M. Okabe and K. Ito, 2008, Color Universal
//! Design, which people of any colour vision tell apart (lighter on dark, darker
//! as text); no two kinds of line differ by colour alone.

use std::fmt::Write as _;

/// Light or dark.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Theme {
    /// As the reader's system asks for; light where it says nothing, and on paper.
    #[default]
    Auto,
    /// Dark on light.
    Light,
    /// Light on dark.
    Dark,
}

/// How a diagram looks.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Style {
    /// Light or dark.
    pub theme: Theme,
    /// Whether the diagram becomes a part of a page of HTML, whose paper it leaves
    /// alone; otherwise it is a page of its own and prints on A4 across.
    pub inside: bool,
}

/// The colours of one theme.
struct Palette {
    paper: &'static str,
    ink: &'static str,
    /// Text of less weight.
    soft: &'static str,
    grid: &'static str,
    /// The stronger lines of the grid.
    frame: &'static str,
    band: &'static str,
    ground: &'static str,
    temperature: &'static str,
    dewpoint: &'static str,
    message: &'static str,
    dry: &'static str,
    saturated: &'static str,
    mixing: &'static str,
    /// The names of these lines, in hues that text can have.
    names: [&'static str; 3],
    /// The layers of the hodograph from the lowest: in grey each is nearer to the paper
    /// than the one below it.
    layers: [&'static str; 5],
}

const LIGHT: Palette = Palette {
    paper: "#ffffff",
    ink: "#16191d",
    soft: "#4a5058",
    grid: "#d5d9de",
    frame: "#8b929b",
    band: "#cfe6f7",
    ground: "#e9e4da",
    temperature: "#d55e00",
    dewpoint: "#0072b2",
    message: "#0072b2",
    dry: "#e69f00",
    saturated: "#009e73",
    mixing: "#cc79a7",
    names: ["#8a5a00", "#00694d", "#8f4470"],
    layers: ["#1b1038", "#3a2f96", "#20679a", "#1a7d63", "#a88320"],
};

const DARK: Palette = Palette {
    paper: "#14171b",
    ink: "#eceff2",
    soft: "#b4bbc4",
    grid: "#343a42",
    frame: "#79818b",
    band: "#1f4258",
    ground: "#2b2822",
    temperature: "#ff8433",
    dewpoint: "#56b4e9",
    message: "#56b4e9",
    dry: "#e69f00",
    saturated: "#00b386",
    mixing: "#cc79a7",
    names: ["#e69f00", "#00b386", "#d98fb8"],
    layers: ["#fdf3c8", "#9fe0a8", "#4fc0b8", "#4f97d8", "#8a78d0"],
};

/// The style sheet of a diagram: every rule begins with the class of the root, so
/// that it leaves the page alone in which the diagram stands.
pub(crate) fn style_sheet(style: Style) -> String {
    let mut css = String::from(SHAPES);
    match style.theme {
        Theme::Light => colours(&mut css, &LIGHT),
        Theme::Dark => colours(&mut css, &DARK),
        Theme::Auto => {
            colours(&mut css, &LIGHT);
            css.push_str("@media screen and (prefers-color-scheme:dark){\n");
            colours(&mut css, &DARK);
            css.push_str("}\n");
        }
    }
    if !style.inside {
        css.push_str(PAPER);
    }
    css
}

/// What does not depend on the theme.
const SHAPES: &str = "\
.aero text{font-family:sans-serif;stroke-width:3;paint-order:stroke;stroke-linejoin:round}
.aero .b{font-weight:bold}
.aero .g,.aero .f,.aero .z,.aero .c,.aero .s,.aero .h{fill:none}
.aero .c,.aero .h,.aero .s{stroke-linejoin:round;stroke-linecap:round}
.aero .g{stroke-width:.8}
.aero .f{stroke-width:1}
.aero .z{stroke-width:1.4}
.aero .dry{stroke-width:.7;fill:none}
.aero .sat{stroke-width:.8;stroke-dasharray:9 4;fill:none}
.aero .mix{stroke-width:1;stroke-dasharray:1 4;stroke-linecap:round;fill:none}
.aero .t{stroke-width:2}
.aero .td{stroke-width:1.6;stroke-dasharray:6 2.5;stroke-linecap:butt}
.aero .h{stroke-width:1.2}
.aero .k0{stroke-width:3.4}
.aero .k1{stroke-width:2.8}
.aero .k2{stroke-width:2.2}
.aero .k3{stroke-width:1.7}
.aero .k4{stroke-width:1.2}
.aero .m{stroke-width:1.4;stroke-dasharray:4 2.5;fill:none}
.aero .tr{stroke-width:1;stroke-dasharray:10 3 2 3;fill:none}
.aero .o{stroke-width:1.4}
.aero .x{stroke-width:1.8;fill:none}
.aero .d{stroke-width:1}
.aero .s{stroke-width:1.3}
.aero .ground{opacity:.75}
.aero .band{opacity:.85}
";

/// A sheet of A4 across holds the whole, where the diagram is a page of its own.
const PAPER: &str = "\
@page{size:A4 landscape;margin:8mm}
@media print{svg.aero:root{width:100%;height:100%}}
";

fn colours(css: &mut String, colours: &Palette) {
    let Palette {
        paper,
        ink,
        soft,
        grid,
        frame,
        band,
        ground,
        temperature,
        dewpoint,
        message,
        dry,
        saturated,
        mixing,
        names: [n_dry, n_sat, n_mix],
        layers,
    } = colours;
    for (k, colour) in layers.iter().enumerate() {
        let _ = writeln!(css, ".aero .k{k}{{stroke:{colour}}}");
    }
    let _ = write!(
        css,
        ".aero .paper{{fill:{paper}}}
.aero text{{fill:{ink};stroke:{paper}}}
.aero .soft{{fill:{soft}}}
.aero .g{{stroke:{grid}}}
.aero .f,.aero .z{{stroke:{frame}}}
.aero .band{{fill:{band}}}
.aero .ground{{fill:{ground}}}
.aero .t{{stroke:{temperature}}}
.aero .td{{stroke:{dewpoint}}}
.aero .m{{stroke:{message}}}
.aero .h,.aero .s,.aero .tr,.aero .x{{stroke:{ink}}}
.aero .dry{{stroke:{dry}}}
.aero .sat{{stroke:{saturated}}}
.aero .mix{{stroke:{mixing}}}
.aero .n-dry{{fill:{n_dry}}}
.aero .n-sat{{fill:{n_sat}}}
.aero .n-mix{{fill:{n_mix}}}
.aero .o{{fill:{paper};stroke:{ink}}}
.aero .d{{fill:{ink};stroke:{paper}}}
.aero .p,.aero .tick{{fill:{ink}}}
"
    );
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn themes_say_what_they_are() {
        let of = |theme| {
            style_sheet(Style {
                theme,
                inside: false,
            })
        };
        let auto = of(Theme::Auto);
        assert!(auto.contains("prefers-color-scheme:dark") && auto.contains(LIGHT.paper));
        let light = of(Theme::Light);
        assert!(!light.contains("prefers") && !light.contains(DARK.paper));
        let dark = of(Theme::Dark);
        assert!(!dark.contains("prefers") && dark.contains(DARK.paper));
        let inside = style_sheet(Style {
            theme: Theme::Light,
            inside: true,
        });
        assert!(light.contains("@page") && !inside.contains("@page"));
        for css in [auto, light, dark, inside] {
            assert_eq!(css.matches('{').count(), css.matches('}').count());
        }
    }

    /// Relative luminance, WCAG 2.1.
    fn luminance(colour: &str) -> f64 {
        let part = |i: usize| {
            let c = f64::from(u8::from_str_radix(&colour[i..i + 2], 16).unwrap()) / 255.0;
            if c <= 0.03928 {
                c / 12.92
            } else {
                ((c + 0.055) / 1.055).powf(2.4)
            }
        };
        0.2126 * part(1) + 0.7152 * part(3) + 0.0722 * part(5)
    }

    fn contrast(a: &str, b: &str) -> f64 {
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    #[test]
    fn text_and_curves_stand_out() {
        // WCAG 2.1: text 4.5 to 1 (1.4.3), graphics 3 to 1 (1.4.11).
        for p in [&LIGHT, &DARK] {
            for text in [p.ink, p.soft].into_iter().chain(p.names) {
                assert!(contrast(text, p.paper) >= 4.5, "{text}");
                assert!(contrast(text, p.ground) >= 4.5, "{text}");
            }
            for curve in [p.temperature, p.dewpoint, p.message, p.frame] {
                assert!(contrast(curve, p.paper) >= 3.0, "{curve}");
            }
            assert!(contrast(p.message, p.band) >= 3.0);
            // In grey the layers of the hodograph follow one another, each seen.
            for pair in p.layers.windows(2) {
                assert!(
                    contrast(pair[0], p.paper) > 1.15 * contrast(pair[1], p.paper),
                    "{pair:?}"
                );
            }
            assert!(
                p.layers
                    .iter()
                    .all(|colour| contrast(colour, p.paper) >= 3.0)
            );
        }
    }
}
