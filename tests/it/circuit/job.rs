//! The job file: read and written back, and every refusal with its line.
use proptest::prelude::*;
use steadyohm::circuit::job::{self, ControlText, Law, Pickup, Plan, plain};
use steadyohm::circuit::{Job, LAYOUTS};

#[test]
fn every_layout_is_a_job_and_reads_back() {
    for layout in LAYOUTS {
        let job =
            Job::from_text(layout.text, layout.id).unwrap_or_else(|error| panic!("{error}"));
        let text = job.plan().to_text().unwrap();
        let again = Job::from_text(&text, layout.id).unwrap_or_else(|error| panic!("{error}"));
        assert_eq!(again, job, "{}", layout.id);
        // Named with nothing given, it is the same circuit of typical values.
        let named = Plan::named(layout.id).to_text().unwrap();
        let named = Job::from_text(&named, "named").unwrap();
        assert_eq!(named.circuit().elements(), job.circuit().elements());
        assert_eq!(named.circuit().terminals(), job.circuit().terminals());
        assert_eq!(
            job.circuit().typical().count(),
            0,
            "a job gives all its values"
        );
        let parts = job.plan().pickup.len() + job.plan().control.len();
        assert_eq!(named.circuit().typical().count(), parts, "{}", layout.id);
        // A pickup of which nothing is known may be 30 % off: common practice, no source.
        let pickups = named.circuit().spreads().iter();
        let mut pickups = pickups.filter(|spread| spread.name.ends_with("pickup"));
        assert!(pickups.all(|spread| (spread.most - 0.3).abs() < 1e-12));
        assert_eq!(named.whole().title, None);
    }
}

#[test]
fn every_layout_file_is_in_the_library() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/src/circuit/layouts");
    let files = std::fs::read_dir(folder).unwrap();
    let mut files: Vec<String> = files
        .map(|file| {
            file.unwrap()
                .path()
                .file_stem()
                .unwrap()
                .to_str()
                .unwrap()
                .to_owned()
        })
        .collect();
    files.sort();
    let mut listed: Vec<&str> = LAYOUTS.iter().map(|layout| layout.id).collect();
    listed.sort_unstable();
    assert_eq!(files, listed);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    #[test]
    fn values_given_to_a_layout_are_read_back(
        neck in 1000.0..20_000.0_f64, off in 0.0..0.5_f64, warm in proptest::option::of(0.0..40.0_f64),
        track in 1e4..1e6_f64, active in any::<bool>(), title in "[ -~]{0,30}",
    ) {
        let mut plan = Plan::named("two-volumes-two-tones");
        plan.title = Some(title);
        plan.active = active;
        plan.workshop.celsius = warm.map(plain);
        plan.pickup.push(Pickup {
            id: plain("neck".to_owned()),
            title: None,
            ohms: Some(plain(neck)),
            coils: None,
            tolerance: Some(plain(off)),
            celsius: warm.map(plain),
        });
        plan.control.push(ControlText {
            id: plain("bridge-volume".to_owned()),
            title: None,
            ohms: Some(plain(track)),
            tolerance: None,
            law: Some(Law::ReverseAudio),
            end_ohms: None,
            follows: None,
        });
        let job = Job::from_text(&plan.to_text().unwrap(), "job").unwrap();
        prop_assert_eq!(job.plan(), &plan);
        let given = job.whole().pickup.iter().find(|it| it.id.get_ref() == "neck").unwrap();
        prop_assert_eq!(given.ohms.as_ref(), Some(&plain(neck)));
        prop_assert_eq!(job.circuit().active(), active);
        prop_assert!((job.circuit().controls()[1].ohms - track).abs() < f64::EPSILON);
    }

    #[test]
    fn any_text_is_read_or_refused(text in "[ -~\n]{0,300}", cut in 0_usize..3000, layout in 0..LAYOUTS.len()) {
        for text in [text.as_str(), LAYOUTS[layout].text.get(..cut).unwrap_or_default()] {
            if let Err(error) = Job::from_text(text, "job") {
                prop_assert!(error.line() >= 1 && error.line() <= 1 + text.lines().count());
            }
        }
    }
}

/// A job that describes everything, with room for one mistake.
const WHOLE: &str = r#"schema = 1
[[pickup]]
id = "bridge"
ohms = 8000
[[control]]
id = "volume"
ohms = 500000
[[capacitor]]
id = "bleed"
farads = 1e-9
[[resistor]]
id = "load"
ohms = 1000000
[[switch]]
id = "kill"
terminals = ["one", "two"]
positions = [{ name = "off", closes = [] }, { name = "on", closes = [["one", "two"]] }]
[jack]
kind = "mono"
[wiring]
connections = [
    ["bridge.hot", "volume.top"],
    ["volume.wiper", "jack.tip"],
    ["bridge.ground", "ground"],
    ["jack.sleeve", "ground"],
]
"#;

#[test]
fn the_whole_job_is_sound() {
    assert!(Job::from_text(WHOLE, "job").is_ok());
}

#[track_caller]
fn refused(was: &str, now: &str, line: usize, says: &str) {
    assert!(WHOLE.contains(was), "{was} is not in the job");
    let text = WHOLE.replacen(was, now, 1);
    let error = match Job::from_text(&text, "my.toml") {
        Ok(_) => panic!("{now:?} was taken"),
        Err(error) => error.to_string(),
    };
    let wanted = format!("my.toml, line {line}: ");
    assert!(error.starts_with(&wanted), "{error}\nis not at line {line}");
    assert!(error.contains(says), "{error}\ndoes not say {says}");
}

#[test]
#[expect(clippy::too_many_lines, reason = "a row for each refusal")]
fn every_refusal_has_its_line() {
    refused("schema = 1", "schema = 2", 1, "schema 1, not 2");
    refused(
        "schema = 1",
        "schema = 1\ncolour = 3",
        2,
        "unknown field `colour`, expected one of",
    );
    refused(
        "id = \"bridge\"",
        "id = \"bridge\"\nohm = 3",
        4,
        "unknown field `ohm`",
    );
    refused(
        "id = \"bridge\"",
        "id = \"Bridge\"",
        3,
        "lower-case letters",
    );
    refused("id = \"bridge\"", "id = \"jack\"", 3, "is taken");
    refused("id = \"volume\"", "id = \"bridge\"", 6, "is taken");
    refused(
        "ohms = 8000",
        "ohms = 0",
        4,
        "ohms must be 1 to 1000000, not 0",
    );
    refused("ohms = 8000", "ohms = nan", 4, "not NaN");
    refused("ohms = 8000", "", 3, "gives its ohms");
    refused(
        "ohms = 8000",
        "ohms = 8000\ncoils = [1000, 2000]",
        3,
        "not both",
    );
    refused("ohms = 8000", "coils = [4000]", 4, "the ohms of two coils");
    refused("ohms = 8000", "coils = [4000, -1]", 4, "not -1");
    refused(
        "ohms = 8000",
        "ohms = 8000\ntolerance = 5",
        5,
        "0.1 for ten per cent, not 5",
    );
    refused(
        "ohms = 8000",
        "ohms = 8000\ncelsius = 300",
        5,
        "-40 to 85, not 300",
    );
    refused("ohms = 500000", "ohms = 5", 7, "100 to 10000000, not 5");
    refused("ohms = 500000", "", 6, "a control needs its ohms");
    refused(
        "ohms = 500000",
        "ohms = 500000\nlaw = \"log\"",
        8,
        "unknown variant `log`, expected",
    );
    refused(
        "ohms = 500000",
        "ohms = 500000\nend_ohms = 0",
        8,
        "0.001 to 50, not 0",
    );
    refused(
        "ohms = 500000",
        "ohms = 500000\nfollows = \"tone\"",
        8,
        "no control \"tone\"",
    );
    refused(
        "ohms = 500000",
        "ohms = 500000\nfollows = \"volume\"",
        8,
        "no control \"volume\"",
    );
    refused("farads = 1e-9", "farads = 22", 10, "1e-12 to 1e-3, not 22");
    refused("ohms = 1000000", "", 12, "a resistor needs its ohms");
    refused("ohms = 1000000", "ohms = 1e12", 13, "0.1 to 100000000");
    refused("[\"one\", \"two\"]\np", "[]\np", 15, "at least one lug");
    refused(
        "[\"one\", \"two\"]\np",
        "[\"one\", \"one\"]\np",
        16,
        "is taken",
    );
    refused(
        "[\"one\", \"two\"]\np",
        "[\"one\", \"Two\"]\np",
        16,
        "lower-case",
    );
    refused("name = \"on\"", "name = \"off\"", 17, "is taken");
    refused(
        "[[\"one\", \"two\"]]",
        "[[\"one\", \"three\"]]",
        17,
        "the lugs of this switch are one, two",
    );
    refused(
        "[[\"one\", \"two\"]]",
        "[[\"one\", \"one\"]]",
        17,
        "joined to itself",
    );
    refused(
        "kind = \"mono\"",
        "kind = \"quad\"",
        19,
        "unknown variant `quad`",
    );
    refused(
        "volume.top",
        "volume.tap",
        22,
        "the terminals of volume are volume.bottom, volume.top, volume.wiper",
    );
    refused("volume.top", "tone.top", 22, "there is no part \"tone\"");
    refused("volume.top", "bridge.hot", 22, "joined to itself");
    refused(
        "volume.top",
        "volume.track",
        22,
        "there is no terminal \"volume.track\"",
    );
    refused(
        "\"jack.sleeve\", \"ground\"",
        "\"ground\", \"bridge.ground\"",
        25,
        "are joined already",
    );
    refused(
        "    [\"volume.wiper\", \"jack.tip\"],\n",
        "",
        20,
        "jack.tip is joined to nothing",
    );
    refused(
        "    [\"jack.sleeve\", \"ground\"],\n",
        "",
        20,
        "jack.sleeve is joined to nothing",
    );
    refused("[jack]\nkind = \"mono\"\n", "", 1, "needs a [jack]");
    refused(
        "[[pickup]]\nid = \"bridge\"\nohms = 8000\n",
        "",
        1,
        "at least one [[pickup]]",
    );
    refused(
        "schema = 1",
        "schema = 1\nlayout = \"one-pickup\"",
        16,
        "leave out [[switch]]",
    );
    refused("schema = 1\n", "schema = \n", 1, "");
}

#[test]
fn a_layout_takes_values_for_its_own_parts_only() {
    for (text, line, says) in [
        (
            "layout = \"three-necks\"",
            2,
            "the layouts are one-pickup, master-volume",
        ),
        (
            "layout = \"one-pickup\"\n[[pickup]]\nid = \"neck\"",
            4,
            "no pickup \"neck\"; it has bridge",
        ),
        (
            "layout = \"one-pickup\"\n[[resistor]]\nid = \"load\"",
            4,
            "no resistor \"load\"; it has none",
        ),
        (
            "layout = \"one-pickup\"\n[[control]]\nid = \"volume\"\nohms = 1",
            5,
            "not 1",
        ),
        (
            "layout = \"one-pickup\"\n[[control]]\nid = \"tone\"\nfollows = \"volume\"",
            5,
            "share a shaft",
        ),
        (
            "layout = \"one-pickup\"\n[jack]\nkind = \"mono\"",
            3,
            "leave out [jack]",
        ),
        (
            "layout = \"one-pickup\"\n[[metal]]\nid = \"x\"",
            4,
            "leave out [[metal]]",
        ),
        (
            "layout = \"one-pickup\"\n[wiring]\nconnections = []",
            3,
            "leave out [wiring]",
        ),
    ] {
        let error = Job::from_text(&format!("schema = 1\n{text}\n"), "my.toml").unwrap_err();
        assert_eq!(error.line(), line, "{error}");
        assert!(
            error.to_string().contains(says),
            "{error}\ndoes not say {says}"
        );
    }
}

#[test]
fn a_pickup_of_two_coils_may_be_given_as_a_whole() {
    let job = |values: &str| {
        let text = format!(
            "schema = 1\nlayout = \"coil-split\"\n[[pickup]]\nid = \"neck\"\n{values}\n"
        );
        Job::from_text(&text, "job").unwrap().whole().pickup[0].clone()
    };
    assert_eq!(
        *job("ohms = 9000").coils.unwrap().get_ref(),
        [4500.0, 4500.0]
    );
    assert_eq!(
        *job("coils = [4000, 5000]").coils.unwrap().get_ref(),
        [4000.0, 5000.0]
    );
    assert_eq!(job::SCHEMA, 1);
}
