//! The session: what happens depends on the stamped inputs and on nothing else.

use proptest::prelude::*;
use steadyohm::bench::LeadFault;
use steadyohm::check::notice::{Notice, Trouble, Verdict};
use steadyohm::protocol::{Item, find};
use steadyohm::reading::{Seconds, Stamp};
use steadyohm::record::{Entry, Row};
use steadyohm::session::{Command, Effect, Event, Outcome, Recording, Session, Setup, events};

use crate::check::scene::{brisk, facts, measured};
use crate::golden;
use crate::simulated::{Ran, Run};

/// The events that a recording of this run would give.
fn recorded(ran: &Ran) -> Vec<Event> {
    let rows = ran.entries.iter().filter_map(|entry| match entry.clone() {
        Entry::Bytes { .. } => None,
        Entry::Item { at, item } => Some(Row::Item(at, item)),
        Entry::Mark { at, mark } => Some(Row::Mark(at, mark)),
    });
    events(Recording::Rows(rows.collect()))
}

fn notices(setup: Setup, events: Vec<Event>) -> (Vec<Notice>, Option<Outcome>) {
    let mut session = Session::new(setup);
    let mut said = Vec::new();
    for event in events {
        for effect in session.update(event) {
            match effect {
                Effect::Emit(notice) => said.push(notice),
                Effect::Finish(outcome) => return (said, Some(outcome)),
                _ => {}
            }
        }
    }
    (said, None)
}

fn sample(fault: LeadFault, seed: u64) -> (Run, Ran) {
    let mut run = Run::new(fault, 10.0, seed);
    run.bytes = false;
    run.options.pace.wait = Seconds(3.0);
    let ran = run.go();
    (run, ran)
}

#[test]
fn a_replay_says_the_same_as_the_run() {
    for fault in LeadFault::all(&crate::simulated::kind("instrument")) {
        let (run, ran) = sample(fault, 2);
        let (said, outcome) = notices(run.setup(), recorded(&ran));
        assert_eq!(
            said,
            ran.notices,
            "{}",
            fault.word(&crate::simulated::kind("instrument"))
        );
        assert_eq!(outcome, Some(ran.outcome));
    }
}

#[test]
fn a_replay_through_the_table_says_the_same() {
    let (run, ran) = sample(LeadFault::OpensWhenFlexed(0), 4);
    let rows = golden::rows("the run", &golden::table(&ran.entries));
    let again = Ran {
        entries: rows
            .into_iter()
            .map(|row| match row {
                Row::Item(at, item) => Entry::Item { at, item },
                Row::Mark(at, mark) => Entry::Mark { at, mark },
            })
            .collect(),
        ..ran.clone()
    };
    assert_eq!(notices(run.setup(), recorded(&again)).0, ran.notices);
}

/// Of the raw bytes, however they were cut into chunks at the same moment.
#[test]
fn bytes_and_items_say_the_same() {
    let mut run = Run::new(LeadFault::OpensWhenFlexed(1), 5.0, 9);
    run.options.pace.wait = Seconds(3.0);
    let ran = run.go();
    let by_items = notices(run.setup(), recorded(&ran)).0;
    assert_eq!(by_items, ran.notices);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// Ticks change nothing, wherever they fall.
    #[test]
    fn how_often_it_is_ticked_changes_nothing(
        fault in 0_usize..LeadFault::all(&crate::simulated::kind("instrument")).len(),
        seed in 0_u64..50,
        ticks in prop::collection::vec(0_u64..40_000_000, 0..200),
    ) {
        let (run, ran) = sample(LeadFault::all(&crate::simulated::kind("instrument"))[fault], seed);
        let mut events = recorded(&ran);
        events.extend(ticks.into_iter().map(|at| Event::Tick { at: Stamp::from_micros(at) }));
        events.sort_by_key(Event::at);
        prop_assert_eq!(notices(run.setup(), events).0, ran.notices);
    }

    /// No stream of readings, marks and times makes it panic or say anything after the verdict.
    #[test]
    fn anything_at_all_is_taken(steps in prop::collection::vec((0_u8..12, 0_u64..3_000_000), 1..300)) {
        use steadyohm::reading::{Decimal, Magnitude};
        let setup = Setup {
            protocol: find("lcd-segments-14").unwrap(),
            source: "chance".to_owned(),
            facts: facts(),
            check: Some(Box::new(steadyohm::check::lead::Lead::new(brisk()))),
            patience: Seconds(5.0),
        };
        let mut session = Session::new(setup);
        let mut at = 0;
        let mut over = false;
        for (what, later) in steps {
            at += later / (1 + u64::from(what % 3) * 20);
            let at = Stamp::from_micros(at);
            let number = |digits| measured(Magnitude::Number(Decimal { digits, exponent: -1 }), Some(-1));
            let reads = |measured| Event::Item { at, item: Item::Reading(measured) };
            let event = match what {
                0 => Event::Opened { at, mid_stream: true, caution: None },
                1 => Event::Lost { at, why: "chance".to_owned() },
                2 => Event::Command { at, command: Command::Confirm },
                3 => Event::Bytes { at, chunk: vec![0x13, 0x00, 0xff, what] },
                4 => Event::Tick { at },
                5..=8 => reads(number(4)),
                9 => reads(number(380)),
                10 => reads(measured(Magnitude::Over { beyond: None }, Some(4))),
                _ => reads(measured(Magnitude::Blank, None)),
            };
            let effects = session.update(event);
            prop_assert!(!over || effects.is_empty(), "something after the end");
            let finishes = effects.iter().filter(|e| matches!(e, Effect::Finish(_))).count();
            prop_assert!(finishes <= 1);
            over |= finishes == 1;
            if over && finishes == 1 {
                prop_assert!(matches!(effects.last(), Some(Effect::Finish(_))));
                let last = effects.iter().rev().find_map(|effect| match effect {
                    Effect::Emit(notice) => Some(notice),
                    _ => None,
                });
                prop_assert!(matches!(last, Some(Notice::Verdict(_))));
            }
        }
    }
}

#[test]
fn a_meter_that_says_nothing_is_told_and_given_up() {
    let (run, _) = sample(LeadFault::Good, 1);
    let mut setup = run.setup();
    setup.patience = Seconds(5.0);
    let opened = Event::Opened {
        at: Stamp::START,
        mid_stream: true,
        caution: None,
    };
    let later = Event::Tick {
        at: Stamp::from_seconds(60.0),
    };
    let (said, outcome) = notices(setup, vec![opened, later]);
    assert!(said.iter().any(|n| matches!(
        n,
        Notice::Trouble {
            what: Trouble::Stalled,
            ..
        }
    )));
    assert_eq!(
        outcome,
        Some(Outcome::Judged {
            verdict: Verdict::Retest,
            meter_heard: false
        })
    );
}

#[test]
fn a_polled_meter_is_asked_one_question_at_a_time() {
    let protocol = find("scpi-polled").unwrap();
    let setup = Setup {
        protocol,
        source: "polled".to_owned(),
        facts: facts(),
        check: None,
        patience: Seconds(60.0),
    };
    let mut session = Session::new(setup);
    let sent = |effects: Vec<Effect>| -> String {
        effects
            .into_iter()
            .filter_map(|effect| match effect {
                Effect::Send(bytes) => Some(String::from_utf8(bytes).unwrap()),
                _ => None,
            })
            .collect()
    };
    let at = Stamp::from_seconds;
    let opened = session.update(Event::Opened {
        at: at(0.0),
        mid_stream: true,
        caution: None,
    });
    assert_eq!(
        sent(opened),
        "SYST:REM\n*CLS\nCONF:RES\nSENS:RES:NPLC 1\nREAD?\n"
    );
    let bytes = |t: f64, text: &str| Event::Bytes {
        at: at(t),
        chunk: text.as_bytes().to_vec(),
    };
    assert_eq!(
        sent(session.update(bytes(0.1, "+1.0023"))),
        "",
        "an answer is not over"
    );
    assert_eq!(sent(session.update(bytes(0.2, "4500E+04\r\n"))), "READ?\n");
    // No answer: once more after the documented reply time, then with growing patience.
    assert_eq!(sent(session.update(Event::Tick { at: at(3.3) })), "READ?\n");
    assert_eq!(sent(session.update(Event::Tick { at: at(6.4) })), "");
    assert_eq!(sent(session.update(Event::Tick { at: at(9.4) })), "READ?\n");
    let quit = session.update(Event::Command {
        at: at(10.0),
        command: Command::Quit,
    });
    assert_eq!(sent(quit), "SYST:LOC\n");
}

/// Lead after lead of a stock on one link: the question that is out is not asked again, and a
/// reply cut by the change of leads is read whole.
#[test]
fn sessions_that_follow_each_other_share_what_is_asked() {
    let mut session = watching("scpi-polled").following(&mut watching("scpi-polled"));
    let opened = Event::Opened {
        at: Stamp::START,
        mid_stream: true,
        caution: None,
    };
    let (mut asked, mut answered, mut read, mut parted) = (0, 0, Vec::new(), 0);
    for lead in 0..5 {
        if lead > 0 {
            session = watching("scpi-polled").following(&mut session);
        }
        let mut events = vec![opened.clone()];
        for reply in 0..4_u32 {
            let at = Stamp::from_seconds(0.1 + f64::from(reply));
            let chunk = if reply == 0 && lead > 0 {
                // The rest of what was cut.
                b"500E+01\r\n".to_vec()
            } else {
                b"+1.00234500E+01\r\n".to_vec()
            };
            answered += 1;
            events.push(Event::Bytes { at, chunk });
        }
        events.push(Event::Bytes {
            at: Stamp::from_seconds(3.8),
            chunk: b"+1.00234".to_vec(),
        });
        events.push(Event::Command {
            at: Stamp::from_seconds(3.9),
            command: Command::Quit,
        });
        for effect in events.into_iter().flat_map(|event| session.update(event)) {
            match effect {
                Effect::Send(bytes) if bytes == b"READ?\n" => asked += 1,
                Effect::Send(bytes) => parted += usize::from(bytes == b"SYST:LOC\n"),
                Effect::Emit(Notice::Reading(reading)) => read.extend(reading.measured.ohms()),
                _ => {}
            }
        }
    }
    assert_eq!((asked, answered), (answered + 1, 20), "one question is out");
    assert_eq!(read.len(), 20);
    assert!(
        read.iter().all(|ohms| (ohms.0 - 10.023_45).abs() < 1e-9),
        "{read:?}"
    );
    assert_eq!(parted, 0, "the link stays open");
    assert_eq!(session.part(), [b"SYST:LOC\n".to_vec()]);
}

/// Volts and ohms have no mean.
#[test]
fn a_turn_of_the_dial_begins_the_statistics_anew() {
    let mut session = watching("number-lines");
    kept(
        &mut session,
        &[
            (0.1, b"12.0 V\r\n"),
            (0.2, b"470 Ohm\r\n"),
            (0.3, b"472 Ohm\r\n"),
        ],
    );
    let summary = session.history().summary();
    assert_eq!((summary.count(), summary.mean()), (2, Some(471.0)));
}

fn watching(format: &str) -> Session {
    Session::new(Setup {
        protocol: find(format).unwrap(),
        source: "by hand".to_owned(),
        facts: facts(),
        check: None,
        patience: Seconds(60.0),
    })
}

/// What a session keeps and asks when these bytes come at these times, in seconds.
fn kept(session: &mut Session, bytes: &[(f64, &[u8])]) -> (Vec<Entry>, usize) {
    let mut events = vec![Event::Opened {
        at: Stamp::START,
        mid_stream: false,
        caution: None,
    }];
    events.extend(bytes.iter().map(|(at, bytes)| Event::Bytes {
        at: Stamp::from_seconds(*at),
        chunk: bytes.to_vec(),
    }));
    let (mut entries, mut asked) = (Vec::new(), 0);
    for effect in events.into_iter().flat_map(|event| session.update(event)) {
        match effect {
            Effect::Record(entry) => entries.push(entry),
            Effect::Send(bytes) => asked += usize::from(bytes == b"READ?\n"),
            _ => {}
        }
    }
    (entries, asked)
}

/// The blocks of a meter that sends each twice a conversion, 0.17 s apart: half of them are no
/// second look. A new conversion that says the same is one, and so is a block that differs.
#[test]
fn a_block_sent_twice_is_one_reading() {
    let (low, high): (&[u8], &[u8]) = (b"010003002\r\n", b"010013002\r\n");
    let cut = &low[..5];
    let blocks = [
        (0.00, low),
        (0.17, low),
        (0.33, low),
        (0.50, low),
        (0.66, high),
        (0.83, high),
        (0.84, low),
        (0.85, cut),
        (0.86, b"\r\n".as_slice()),
        (0.87, low),
    ];
    let mut session = watching("jis-11-4000");
    let (entries, _) = kept(&mut session, &blocks);
    let items: Vec<(f64, bool)> = entries
        .iter()
        .filter_map(|entry| match entry {
            Entry::Item { at, item } => Some((at.seconds(), matches!(item, Item::Reading(_)))),
            _ => None,
        })
        .collect();
    let expected = [
        (0.00, true),
        (0.33, true),
        (0.66, true),
        (0.84, true),
        (0.86, false),
        (0.87, true),
    ];
    assert_eq!(items, expected);
    assert_eq!(
        session.history().counts().numbers,
        5,
        "none is judged twice"
    );
    let raw = entries
        .iter()
        .filter(|entry| matches!(entry, Entry::Bytes { .. }));
    assert_eq!(raw.count(), blocks.len(), "the bytes are kept all the same");
    // What was kept is kept again: a replay drops nothing more.
    let mut replay = watching("jis-11-4000");
    let again: Vec<Entry> = entries
        .iter()
        .filter_map(|entry| match entry.clone() {
            Entry::Item { at, item } => Some(Event::Item { at, item }),
            _ => None,
        })
        .flat_map(|event| replay.update(event))
        .filter_map(|effect| match effect {
            Effect::Record(entry) => Some(entry),
            _ => None,
        })
        .collect();
    assert_eq!(again.len(), expected.len());
}

#[test]
fn equal_readings_of_other_meters_are_all_kept() {
    let line: &[u8] = b"0.31 ohm\n";
    let mut session = watching("number-lines");
    let (_, _) = kept(&mut session, &[(0.01, line), (0.02, line), (0.03, line)]);
    assert_eq!(session.history().counts().numbers, 3);
}

/// However many readings an answer has, it is one answer: two questions at once may confuse a
/// meter, and four would follow.
#[test]
fn an_answer_of_several_readings_asks_once() {
    let text: &[u8] = b"+1.0E+02,+1.1E+02,+1.2E+02\r\n";
    let (_, asked) = kept(&mut watching("scpi-polled"), &[(0.5, text), (1.0, text)]);
    assert_eq!(asked, 3, "at the start, and after each answer");
    let two: &[u8] = b"#216\x40\x59\0\0\0\0\0\0\x40\x59\0\0\0\0\0\0\n";
    let (entries, asked) = kept(&mut watching("scpi-block"), &[(0.5, two), (1.0, two)]);
    assert_eq!(asked, 3);
    let items = entries
        .iter()
        .filter(|entry| matches!(entry, Entry::Item { .. }));
    assert_eq!(items.count(), 4);
}
