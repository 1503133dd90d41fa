//! From a key press to what it does: one table, from which the footer and the help screen
//! print, so that no key works that is not shown.

use crossterm::event::{KeyCode, KeyEvent, KeyEventKind, KeyModifiers};

use crate::check::stock::StockCommand;
use crate::session::Command;

/// What a key press asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum KeyAction {
    /// Something for the session.
    Command(Command),
    /// Something for the stock; nothing where there is none.
    Stock(StockCommand),
    /// Something for the screen alone; what is measured and recorded does not change.
    View(ViewChange),
}

/// A change of what is shown or heard.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum ViewChange {
    /// A shorter stretch of the trace.
    ZoomIn,
    /// A longer stretch of the trace.
    ZoomOut,
    /// Sound off, or on again.
    Mute,
    /// The help, or back from it.
    Help,
    /// Further down in the help.
    Further,
    /// Back up in the help.
    Back,
}

/// One press: the key and whether Control is down.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stroke {
    /// The key.
    pub code: KeyCode,
    /// Whether Control is down.
    pub control: bool,
}

impl Stroke {
    const fn plain(code: KeyCode) -> Self {
        Self {
            code,
            control: false,
        }
    }

    const fn character(character: char) -> Self {
        Self::plain(KeyCode::Char(character))
    }

    const fn control(character: char) -> Self {
        Self {
            code: KeyCode::Char(character),
            control: true,
        }
    }
}

/// A line of the table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Key {
    /// Every press that means it.
    pub strokes: &'static [Stroke],
    /// How the key is written.
    pub name: &'static str,
    /// What it does, in a word or two, for the footer.
    pub short: &'static str,
    /// What it does, for the help.
    pub long: &'static str,
    /// What it does.
    pub action: KeyAction,
}

impl Key {
    /// How the key is written while text is typed, and letters are letters; none if it does
    /// nothing then.
    pub fn name_while_typing(&self) -> Option<String> {
        let marked = self.strokes.iter().find_map(|stroke| match stroke.code {
            KeyCode::Char(letter) if stroke.control => {
                Some(format!("Ctrl-{}", letter.to_ascii_uppercase()))
            }
            KeyCode::F(number) => Some(format!("F{number}")),
            _ => None,
        });
        let plain = |stroke: &Stroke| matches!(stroke.code, KeyCode::Char(_));
        marked.or_else(|| (!self.strokes.iter().all(plain)).then(|| self.name.to_owned()))
    }
}

/// Every key there is, the most needed first: a narrow footer shows the first of them.
pub const KEYS: &[Key] = &[
    Key {
        strokes: &[Stroke::plain(KeyCode::Enter)],
        name: "Enter",
        short: "it is on",
        long: "it is on: the probes, or the plug, are where the prompt wants them",
        action: KeyAction::Command(Command::Confirm),
    },
    Key {
        strokes: &[
            Stroke::character('q'),
            Stroke::character('Q'),
            Stroke::control('c'),
        ],
        name: "q",
        short: "stop",
        long: "stop the run, or leave when it is over; Ctrl-C does the same",
        action: KeyAction::Command(Command::Quit),
    },
    Key {
        strokes: &[Stroke::character('u'), Stroke::control('u')],
        name: "u",
        short: "undo last",
        long: "stock: undo the last lead, which comes again; with Ctrl while tags are typed",
        action: KeyAction::Stock(StockCommand::Undo),
    },
    Key {
        strokes: &[Stroke::character('p'), Stroke::control('p')],
        name: "p",
        short: "pause",
        long: "stock: pause, and go on; the lead under way is not judged and comes again",
        action: KeyAction::Stock(StockCommand::Pause),
    },
    Key {
        strokes: &[Stroke::character('s'), Stroke::control('s')],
        name: "s",
        short: "skip",
        long: "stock: leave this lead out",
        action: KeyAction::Stock(StockCommand::Skip),
    },
    Key {
        strokes: &[
            Stroke::character('?'),
            Stroke::character('h'),
            Stroke::plain(KeyCode::F(1)),
        ],
        name: "?",
        short: "help",
        long: "this help, and back from it",
        action: KeyAction::View(ViewChange::Help),
    },
    Key {
        strokes: &[
            Stroke::plain(KeyCode::Down),
            Stroke::plain(KeyCode::PageDown),
        ],
        name: "↓",
        short: "further",
        long: "further down in this help",
        action: KeyAction::View(ViewChange::Further),
    },
    Key {
        strokes: &[Stroke::plain(KeyCode::Up), Stroke::plain(KeyCode::PageUp)],
        name: "↑",
        short: "up",
        long: "back up in this help",
        action: KeyAction::View(ViewChange::Back),
    },
    Key {
        strokes: &[Stroke::character('m'), Stroke::character('M')],
        name: "m",
        short: "mute",
        long: "sound off, and on again",
        action: KeyAction::View(ViewChange::Mute),
    },
    Key {
        // The same key without Shift on most keyboards.
        strokes: &[Stroke::character('+'), Stroke::character('=')],
        name: "+",
        short: "closer",
        long: "a shorter stretch of the trace",
        action: KeyAction::View(ViewChange::ZoomIn),
    },
    Key {
        strokes: &[Stroke::character('-'), Stroke::character('_')],
        name: "-",
        short: "wider",
        long: "a longer stretch of the trace",
        action: KeyAction::View(ViewChange::ZoomOut),
    },
];

/// A character typed as text, where text is expected: no key's command.
pub fn typed(event: &KeyEvent) -> Option<char> {
    let marked = KeyModifiers::CONTROL | KeyModifiers::ALT | KeyModifiers::SUPER;
    match event.code {
        KeyCode::Char(character) if !event.modifiers.intersects(marked) => Some(character),
        _ => None,
    }
}

/// What a key press asks for, if anything. Releases and key repeats ask for nothing: a key
/// held down must not confirm twice.
pub fn action(event: &KeyEvent) -> Option<KeyAction> {
    if event.kind != KeyEventKind::Press
        || event
            .modifiers
            .intersects(KeyModifiers::ALT | KeyModifiers::SUPER)
    {
        return None;
    }
    let pressed = Stroke {
        code: event.code,
        control: event.modifiers.contains(KeyModifiers::CONTROL),
    };
    KEYS.iter()
        .find(|key| key.strokes.contains(&pressed))
        .map(|key| key.action)
}
