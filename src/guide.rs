//! The guide: how to use fivefig, one page for each topic.
//!
//! The same pages are printed by the command `fivefig guide` and installed as manual
//! pages of section 7.

/// A page of the guide.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct Page {
    /// The topic, one word.
    pub topic: &'static str,
    /// The page in Markdown; the first line is its title.
    pub text: &'static str,
}

impl Page {
    /// The title, without its mark.
    #[must_use]
    pub fn title(&self) -> &'static str {
        let first = self.text.lines().next().unwrap_or_default();
        first.trim_start_matches("# ")
    }
}

macro_rules! pages {
    ($($topic:ident),+ $(,)?) => {
        $(
            #[doc = include_str!(concat!("guide/", stringify!($topic), ".md"))]
            pub mod $topic {}
        )+

        /// All pages, in reading order.
        pub const PAGES: &[Page] = &[$(
            Page {
                topic: stringify!($topic),
                text: include_str!(concat!("guide/", stringify!($topic), ".md")),
            },
        )+];
    };
}

pages!(
    start,
    sheet,
    practice,
    profile,
    theodolite,
    text,
    bufr,
    netcdf,
    traffic,
    check,
    compare,
    issue,
    desk,
    spool,
    handover,
    wis2,
    findings,
    limits,
    performance,
    python,
    tables,
);

/// Runs the example of README with the tests.
#[cfg(doctest)]
#[doc = include_str!("../README.md")]
mod readme {}
