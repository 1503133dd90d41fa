//! Asking a meter that only speaks when spoken to: the next question when every one before it
//! is answered, and growing patience when no answer comes.
//!
//! A late answer and a lost one look alike at first. A question that is repeated too early may
//! be answered twice, so the questions out are counted; once patience has grown to its end,
//! what was not answered counts as lost.

use crate::protocol::{Ask, Request};
use crate::reading::{Seconds, Stamp};

/// The asking side of a format.
#[derive(Debug, Clone)]
pub(super) struct Poll {
    ask: Ask,
    state: State,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum State {
    /// Not open, or the meter talks by itself.
    Idle,
    /// Questions are out.
    Asked {
        since: Stamp,
        patience: Seconds,
        /// How many may still be answered.
        out: u32,
    },
}

/// Patience never grows beyond this many times the documented reply time.
const MOST_PATIENCE: f64 = 4.0;

impl Poll {
    pub(super) fn new(ask: &Ask) -> Self {
        Self {
            ask: ask.clone(),
            state: State::Idle,
        }
    }

    /// Whether the meter talks by itself, so that the first bytes may be half a frame.
    pub(super) const fn is_idle_protocol(&self) -> bool {
        matches!(self.ask, Ask::Listen)
    }

    /// The port is open: what to send.
    pub(super) fn start(&mut self, now: Stamp) -> Vec<Vec<u8>> {
        let Ask::Request(request) = &self.ask else {
            return Vec::new();
        };
        self.state = State::one(now, request);
        let mut sent = request.at_open.clone();
        sent.push(request.ask.clone());
        sent
    }

    /// Whether asking has begun, or needs no beginning.
    pub(super) fn is_under_way(&self) -> bool {
        self.is_idle_protocol() || self.state != State::Idle
    }

    /// Time begins anew, in the middle of asking.
    pub(super) const fn begin_anew(&mut self) {
        if let State::Asked { since, .. } = &mut self.state {
            *since = Stamp::START;
        }
    }

    /// The port is gone.
    pub(super) const fn stop(&mut self) {
        self.state = State::Idle;
    }

    /// An answer came: the next question, unless one is still out. Several readings at one
    /// moment are one answer.
    pub(super) fn answered(&mut self, now: Stamp) -> Option<Vec<u8>> {
        let (Ask::Request(request), State::Asked { since, out, .. }) = (&self.ask, self.state)
        else {
            return None;
        };
        if since >= now {
            return None;
        }
        if out > 1 {
            // The meter is slow; or a question was lost, and the longest wait will tell.
            self.state = State::Asked {
                since: now,
                patience: longest(request),
                out: out - 1,
            };
            return None;
        }
        self.state = State::one(now, request);
        Some(request.ask.clone())
    }

    pub(super) fn due(&self) -> Option<Stamp> {
        match self.state {
            State::Idle => None,
            State::Asked {
                since, patience, ..
            } => Some(since + patience),
        }
    }

    /// No answer in time: the question again.
    pub(super) fn time(&mut self, now: Stamp) -> Option<Vec<u8>> {
        let Ask::Request(request) = &self.ask else {
            return None;
        };
        let State::Asked {
            since,
            patience,
            out,
        } = self.state
        else {
            return None;
        };
        if since + patience > now {
            return None;
        }
        let longest = longest(request);
        self.state = State::Asked {
            since: now,
            patience: Seconds((patience.0 * 2.0).min(longest.0)),
            out: if patience < longest { out + 1 } else { 1 },
        };
        Some(request.ask.clone())
    }

    /// The run is over: what to send in parting.
    pub(super) fn close(&mut self) -> Vec<Vec<u8>> {
        let asking = self.state != State::Idle;
        self.state = State::Idle;
        match &self.ask {
            Ask::Request(request) if asking => request.at_close.clone(),
            _ => Vec::new(),
        }
    }
}

impl State {
    /// One question is out, asked now.
    const fn one(now: Stamp, request: &Request) -> Self {
        Self::Asked {
            since: now,
            patience: request.reply_within,
            out: 1,
        }
    }
}

/// Patience grows to this.
fn longest(request: &Request) -> Seconds {
    Seconds(request.reply_within.0 * MOST_PATIENCE)
}

#[cfg(test)]
mod tests {
    use super::*;

    const WITHIN: Seconds = Seconds(1.0);

    fn poll() -> Poll {
        let mut poll = Poll::new(&Ask::Request(Request {
            at_open: vec![b"RESET".to_vec()],
            ask: b"READ?".to_vec(),
            at_close: Vec::new(),
            reply_within: WITHIN,
        }));
        assert_eq!(poll.start(at(0.0)), [b"RESET".to_vec(), b"READ?".to_vec()]);
        poll
    }

    fn at(seconds: f64) -> Stamp {
        Stamp::from_seconds(seconds)
    }

    fn asks(sent: Option<&Vec<u8>>) -> bool {
        sent.is_some_and(|sent| sent == b"READ?")
    }

    /// A meter that answers in order, each question so long after it is free for it; gives the
    /// most questions that were ever unanswered at it. The question of `lost` never arrives.
    fn most_out(seconds: f64, lost: Option<usize>) -> (usize, usize) {
        let mut poll = poll();
        let mut asked = 1_usize;
        let mut waiting = vec![0.0_f64];
        let mut free = 0.0_f64;
        let (mut most, mut answers) = (1, 0);
        for step in 1..20_000_u32 {
            let now = f64::from(step) * 0.01;
            let mut sent = Vec::new();
            if waiting
                .first()
                .is_some_and(|begun| begun.max(free) + seconds <= now)
            {
                waiting.remove(0);
                free = now;
                answers += 1;
                sent.extend(poll.answered(at(now)));
            }
            sent.extend(poll.time(at(now)));
            for _question in sent {
                if lost != Some(asked) {
                    waiting.push(now);
                }
                asked += 1;
            }
            most = most.max(waiting.len());
        }
        (most, answers)
    }

    #[test]
    fn a_quick_meter_has_one_question_at_a_time() {
        let (most, answers) = most_out(0.3, None);
        assert_eq!(most, 1);
        assert!(answers > 600, "{answers}");
    }

    #[test]
    fn late_answers_do_not_add_questions() {
        for seconds in [1.1, 1.5, 2.5, 3.9] {
            let (most, answers) = most_out(seconds, None);
            assert!(most <= 3, "{seconds} s: {most}");
            assert!(
                f64::from(u32::try_from(answers).unwrap()) * seconds > 100.0,
                "{seconds} s: {answers}"
            );
        }
    }

    #[test]
    fn a_lost_question_is_got_over() {
        let (most, answers) = most_out(0.3, Some(20));
        assert_eq!(most, 1);
        assert!(answers > 600, "{answers}");
    }

    #[test]
    fn two_answers_to_two_questions_bring_one_more() {
        let mut poll = poll();
        assert!(poll.time(at(0.9)).is_none());
        assert!(asks(poll.time(at(1.0)).as_ref()), "repeated");
        assert!(poll.answered(at(1.2)).is_none(), "the repeated one is out");
        assert!(asks(poll.answered(at(1.3)).as_ref()));
        assert_eq!(poll.due(), Some(at(2.3)));
    }

    #[test]
    fn what_was_asked_before_the_longest_wait_is_lost() {
        let mut poll = poll();
        for time in [1.0, 3.0, 7.0] {
            assert_eq!(poll.due(), Some(at(time)));
            assert!(asks(poll.time(at(time)).as_ref()), "{time}");
        }
        assert_eq!(poll.due(), Some(at(11.0)), "patience grows no more");
        assert!(asks(poll.answered(at(7.5)).as_ref()), "one was out");
    }
}
