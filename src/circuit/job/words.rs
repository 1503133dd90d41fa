//! What parts and terminals are called in sentences.

/// The name of a part: its title, or its short name with its kind.
pub(super) fn part(id: &str, title: Option<&str>, kind: &str) -> String {
    let own = match title {
        Some(title) => title.trim().to_owned(),
        None if id == kind || id.ends_with(&format!("-{kind}")) => id.replace(['-', '_'], " "),
        None => format!("{} {kind}", id.replace(['-', '_'], " ")),
    };
    let named = own.starts_with("the ");
    if named { own } else { format!("the {own}") }
}

/// The name of a part's terminal.
pub(super) fn terminal(part: &str, lug: &str) -> String {
    let lug = match lug {
        "hot" => "hot wire",
        "ground" => "ground wire",
        "top" => "top lug",
        "bottom" => "bottom lug",
        "one" => "first end",
        "two" => "second end",
        "first_start" => "start of the first coil",
        "first_finish" => "finish of the first coil",
        "second_start" => "start of the second coil",
        "second_finish" => "finish of the second coil",
        "wiper" | "common" | "tip" | "ring" | "sleeve" => lug,
        other => return format!("{part}'s {} lug", other.replace(['-', '_'], " ")),
    };
    format!("{part}'s {lug}")
}
