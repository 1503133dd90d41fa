//! Which runs are asked for. What the user typed goes into the question as values, never as
//! its text.

/// A filter; what is none does not matter.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Filter {
    /// Only this tag.
    pub tag: Option<String>,
    /// Only this verdict.
    pub verdict: Option<String>,
    /// Only this check.
    pub kind: Option<String>,
    /// Only this instrument.
    pub instrument: Option<String>,
    /// Only this batch.
    pub batch: Option<String>,
    /// Only this supplier's lot.
    pub lot: Option<String>,
    /// Only runs that began then or later: RFC 3339, UTC, whole seconds.
    pub since: Option<String>,
    /// Only runs that began before.
    pub until: Option<String>,
    /// Not those that were undone.
    pub not_undone: bool,
}

impl Filter {
    /// The clause, and the values of its question marks.
    pub(super) fn sql(&self) -> (String, Vec<&str>) {
        let conditions = [
            ("tag = ?", &self.tag),
            ("verdict = ?", &self.verdict),
            ("kind = ?", &self.kind),
            ("instrument = ?", &self.instrument),
            ("batch = ?", &self.batch),
            ("lot = ?", &self.lot),
            ("began >= ?", &self.since),
            ("began < ?", &self.until),
        ];
        let (mut conditions, values): (Vec<&str>, Vec<&str>) = conditions
            .into_iter()
            .filter_map(|(condition, value)| Some((condition, value.as_deref()?)))
            .unzip();
        if self.not_undone {
            conditions.push("verdict <> 'undone'");
        }
        if conditions.is_empty() {
            return (String::new(), values);
        }
        (format!("WHERE {}", conditions.join(" AND ")), values)
    }
}
