//! A stock's job file: the same words as the options, and what it says stands over them.

use std::path::Path;
use std::sync::Arc;

use clap::ValueEnum as _;
use serde::Deserialize;
use toml::Spanned;

use crate::check::stock::Tags;
use crate::circuit::lead::LeadKind;
use crate::circuit::{Celsius, Gauge, Metres};
use crate::cli::lead::{self, LeadArguments, MethodArgument};
use crate::cli::status::Failure;
use crate::cli::{formats, input, keep};

/// A stock as a person describes it.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Job {
    pub(super) name: Option<String>,
    tags: Option<Several>,
    pub(super) lot: Option<u32>,
    tolerated: Option<Word>,
    kind: Option<Word>,
    method: Option<Word>,
    tare: Option<Word>,
    probes: Option<bool>,
    length: Option<Word>,
    gauge: Option<Word>,
    temperature: Option<Word>,
    limit: Option<Word>,
    isolation: Option<Word>,
    gap: Option<Word>,
    confidence: Option<Word>,
    tick: Option<Word>,
    wait: Option<Word>,
    /// The file, for its refusals.
    #[serde(skip)]
    file: String,
    #[serde(skip)]
    text: String,
}

/// A value as it would be typed behind its option, with or without quotation marks.
type Word = Spanned<Loose>;

#[derive(Debug, Deserialize)]
#[serde(untagged)]
enum Loose {
    Text(String),
    Whole(i64),
    Number(f64),
}

#[derive(Debug, Deserialize)]
#[serde(untagged)]
enum Several {
    List(Vec<Loose>),
    One(Loose),
}

impl Loose {
    fn text(&self) -> String {
        match self {
            Self::Text(text) => text.clone(),
            Self::Whole(number) => number.to_string(),
            Self::Number(number) => number.to_string(),
        }
    }
}

impl Job {
    /// The temperature of the workshop, if the job tells it.
    pub(super) fn temperature(&self) -> Result<Option<Celsius>, Failure> {
        let celsius = self.value(self.temperature.as_ref(), keep::temperature)?;
        Ok(celsius.map(Celsius))
    }

    /// Reads a job file.
    pub(super) fn read(path: &Path) -> Result<Self, Failure> {
        let text = formats::read_text(path)?;
        let file = path.display().to_string();
        let job: Self = toml::from_str(&text)
            .map_err(|error| Failure::Usage(format!("{file}: {error}")))?;
        Ok(Self { file, text, ..job })
    }

    /// The tags of its leads: counted up from 1 without end, unless it says otherwise.
    pub(super) fn tags(&self) -> Result<Tags, Failure> {
        let read = match &self.tags {
            None => "1..".parse(),
            Some(Several::One(text)) => text.text().parse(),
            Some(Several::List(tags)) => {
                let tags: Vec<String> = tags.iter().map(Loose::text).collect();
                Tags::list(&tags)
            }
        };
        read.map_err(|error| Failure::Usage(format!("{}: {error}", self.file)))
    }

    /// The share of bad leads that a sample is to exclude.
    pub(super) fn tolerated(&self) -> Result<Option<f64>, Failure> {
        self.value(self.tolerated.as_ref(), super::share)
    }

    /// These arguments, with what the job says in their place.
    pub(super) fn over(&self, lead: &LeadArguments) -> Result<LeadArguments, Failure> {
        let mut meant = lead.clone();
        let parsed = |text: &str| text.parse::<Metres>().map_err(|error| error.to_string());
        let gauge = |text: &str| text.parse::<Gauge>().map_err(|error| error.to_string());
        set(
            &mut meant.kind,
            self.value(self.kind.as_ref(), |text| self.kind_of(text))?,
        );
        let method = |text: &str| MethodArgument::from_str(text, true);
        set(&mut meant.method, self.value(self.method.as_ref(), method)?);
        set(&mut meant.probes, self.probes);
        meant.tare = self.value(self.tare.as_ref(), lead::tare)?.or(meant.tare);
        meant.length = self.value(self.length.as_ref(), parsed)?.or(meant.length);
        meant.gauge = self.value(self.gauge.as_ref(), gauge)?.or(meant.gauge);
        meant.limit = self
            .value(self.limit.as_ref(), lead::limit)?
            .or(meant.limit);
        meant.isolation = self
            .value(self.isolation.as_ref(), lead::isolation)?
            .or(meant.isolation);
        set(
            &mut meant.gap,
            self.value(self.gap.as_ref(), input::opening)?,
        );
        set(
            &mut meant.confidence,
            self.value(self.confidence.as_ref(), input::percent)?,
        );
        set(
            &mut meant.tick,
            self.value(self.tick.as_ref(), input::seconds)?,
        );
        set(
            &mut meant.wait,
            self.value(self.wait.as_ref(), input::seconds)?,
        );
        if meant.length.is_some() != meant.gauge.is_some() {
            return Err(Failure::Usage(format!(
                "{}: length and gauge go together: give both or neither",
                self.file
            )));
        }
        Ok(meant)
    }

    /// A kind; a file's path is meant from the job's own folder.
    fn kind_of(&self, text: &str) -> Result<Arc<LeadKind>, String> {
        let path = Path::new(text);
        let folder = Path::new(&self.file).parent();
        match folder.filter(|_| path.extension().is_some()) {
            Some(folder) => lead::kind(&folder.join(path).to_string_lossy()),
            None => lead::kind(text),
        }
    }

    /// A value read as its option would be; the refusal names the line.
    fn value<T>(
        &self,
        word: Option<&Word>,
        read: impl Fn(&str) -> Result<T, String>,
    ) -> Result<Option<T>, Failure> {
        let Some(word) = word else { return Ok(None) };
        read(&word.get_ref().text()).map(Some).map_err(|why| {
            let before = self.text.get(..word.span().start).unwrap_or_default();
            let line = before.matches('\n').count() + 1;
            Failure::Usage(format!("{}, line {line}: {why}", self.file))
        })
    }
}

fn set<T>(place: &mut T, value: Option<T>) {
    if let Some(value) = value {
        *place = value;
    }
}
