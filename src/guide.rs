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

/// What is done at a time of the day, and where.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct Task {
    /// When.
    pub when: When,
    /// What is done.
    pub what: &'static str,
    /// The commands and pages that do it.
    pub means: &'static str,
    /// The topic of the page of the guide about it.
    pub topic: &'static str,
}

/// A time of the day.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum When {
    /// Before the launch.
    Before,
    /// While the sonde rises.
    During,
    /// After the ascent.
    After,
    /// At the end of the month.
    Month,
}

impl When {
    /// In words.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Before => "before the launch",
            Self::During => "during the ascent",
            Self::After => "after the ascent",
            Self::Month => "end of the month",
        }
    }
}

/// The order of a day: in the guide (`start`) and on the desk.
pub const DAY: &[Task] = {
    const fn task(
        when: When,
        what: &'static str,
        means: &'static str,
        topic: &'static str,
    ) -> Task {
        Task {
            when,
            what,
            means,
            topic,
        }
    }
    &[
        task(
            When::Before,
            "check the sheet, once also with the station list or the WIGOS record",
            "check --sheet S, --station-list T, --wmd R",
            "check",
        ),
        task(
            When::Before,
            "enter the ground check of the sonde; go, or look again",
            "check --sheet S, desk",
            "check",
        ),
        task(
            When::During,
            "issue the early message at 100 hPa",
            "encode --up-to 100, desk, spool",
            "issue",
        ),
        task(
            When::After,
            "take winds from the angles of a theodolite, where there is nothing else",
            "columns, encode",
            "theodolite",
        ),
        task(
            When::After,
            "check the profile, also with the last soundings",
            "check --previous, desk, spool",
            "check",
        ),
        task(
            When::After,
            "issue the report",
            "encode, desk, spool",
            "issue",
        ),
        task(
            When::After,
            "hand over, or mark as handed over",
            "handover, desk",
            "handover",
        ),
        task(
            When::After,
            "correct a report, or issue NIL",
            "encode --correct, nil, desk",
            "issue",
        ),
        task(
            When::Month,
            "count reports, heights reached, reasons of ending, lateness",
            "spool --summary",
            "spool",
        ),
        task(
            When::Month,
            "write archives",
            "encode --to netcdf, encode --to igra",
            "netcdf",
        ),
    ]
};

/// Runs the example of README with the tests.
#[cfg(doctest)]
#[doc = include_str!("../README.md")]
mod readme {}
