//! Runs that several tests look at. All are begun together by the first test that asks, since
//! each of them mostly waits for the operator's hands.

use std::sync::{LazyLock, Mutex, OnceLock};
use std::thread::{self, JoinHandle};

use steadyohm::bench::LeadFault;

use super::driver::{Finished, Scene};
use super::event;

/// A run that may still be under way.
#[derive(Debug)]
pub(super) struct Late {
    playing: Mutex<Option<JoinHandle<Finished>>>,
    over: OnceLock<Finished>,
}

impl Late {
    pub(super) fn begin(scene: Scene) -> Self {
        Self::playing(move || scene.go())
    }

    /// A good lead; the program gets this signal at the fourth bend of the sleeve.
    fn begin_with_signal(name: &'static str) -> Self {
        Self::playing(move || {
            Scene::new(LeadFault::Good).go_with(|line, _, program| {
                if event(line) == "tick" && line["step"] == "sleeve" && line["flex"] == 4 {
                    program.signal(name);
                }
            })
        })
    }

    pub(super) fn playing(play: impl FnOnce() -> Finished + Send + 'static) -> Self {
        Self {
            playing: Mutex::new(Some(thread::spawn(play))),
            over: OnceLock::new(),
        }
    }

    /// The run, once it is over.
    pub(super) fn get(&self) -> &Finished {
        self.over.get_or_init(|| {
            let playing = self.playing.lock().unwrap().take();
            playing.expect("it broke off").join().expect("it broke off")
        })
    }
}

/// What is played.
#[derive(Debug)]
pub(super) struct Stage {
    pub(super) good: Late,
    pub(super) good_loop: Late,
    pub(super) tip_opens: Late,
    pub(super) sleeve_opens_loop: Late,
    pub(super) touches: Late,
    pub(super) short: Late,
    pub(super) sleeve_open: Late,
    pub(super) damp: Late,
    pub(super) joint_loop: Late,
    pub(super) joint_tolerated: Late,
    pub(super) polled_loop: Late,
    pub(super) polled_socket: Late,
    pub(super) killed: Late,
    pub(super) signalled: [Late; 3],
}

pub(super) static STAGE: LazyLock<Stage> = LazyLock::new(|| {
    let begin = |fault| Scene::new(fault);
    // A break throws the meter through all its ranges; the bends leave it time to come back.
    let slowly = |scene: Scene| scene.with("--tick 0.4s");
    let mut told_without_readings = begin(LeadFault::Short(0, 1));
    told_without_readings
        .arguments
        .retain(|word| word != "--readings");
    Stage {
        good: Late::begin(begin(LeadFault::Good)),
        good_loop: Late::begin(begin(LeadFault::Good).by_loop()),
        tip_opens: Late::begin(slowly(begin(LeadFault::OpensWhenFlexed(0)))),
        sleeve_opens_loop: Late::begin(slowly(begin(LeadFault::OpensWhenFlexed(1)).by_loop())),
        touches: Late::begin(slowly(begin(LeadFault::TouchWhenFlexed(0, 1)))),
        short: Late::begin(told_without_readings),
        sleeve_open: Late::begin(begin(LeadFault::Open(1)).with("--wait 0.6s")),
        damp: Late::begin(begin(LeadFault::Leakage(0, 1))),
        joint_loop: Late::begin(begin(LeadFault::HighResistanceJoint(0)).by_loop()),
        joint_tolerated: Late::begin(
            begin(LeadFault::HighResistanceJoint(0)).with("--limit 20"),
        ),
        polled_loop: Late::begin(begin(LeadFault::Good).by_loop().polled()),
        polled_socket: Late::begin(Scene {
            socket: true,
            ..begin(LeadFault::OpensWhenFlexed(0)).polled()
        }),
        killed: Late::begin_with_signal("KILL"),
        signalled: ["INT", "TERM", "HUP"].map(Late::begin_with_signal),
    }
});
