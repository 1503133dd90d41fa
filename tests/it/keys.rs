//! Key presses and what they ask for.

use crossterm::event::{KeyCode, KeyEvent, KeyEventKind, KeyModifiers};
use steadyohm::check::stock::StockCommand;
use steadyohm::keys::{KEYS, KeyAction, ViewChange, action, typed};
use steadyohm::session::Command;

fn press(code: KeyCode, modifiers: KeyModifiers) -> Option<KeyAction> {
    action(&KeyEvent::new(code, modifiers))
}

#[test]
fn each_key_asks_for_its_own() {
    let none = KeyModifiers::NONE;
    let confirm = Some(KeyAction::Command(Command::Confirm));
    let quit = Some(KeyAction::Command(Command::Quit));
    assert_eq!(press(KeyCode::Enter, none), confirm);
    assert_eq!(press(KeyCode::Char('q'), none), quit);
    assert_eq!(press(KeyCode::Char('c'), KeyModifiers::CONTROL), quit);
    assert_eq!(press(KeyCode::Char('Q'), KeyModifiers::SHIFT), quit);
    let view = |change| Some(KeyAction::View(change));
    assert_eq!(
        press(KeyCode::Char('+'), KeyModifiers::SHIFT),
        view(ViewChange::ZoomIn)
    );
    assert_eq!(press(KeyCode::Char('-'), none), view(ViewChange::ZoomOut));
    assert_eq!(press(KeyCode::Char('m'), none), view(ViewChange::Mute));
    assert_eq!(press(KeyCode::Char('?'), none), view(ViewChange::Help));
    assert_eq!(press(KeyCode::PageDown, none), view(ViewChange::Further));
    assert_eq!(press(KeyCode::Up, none), view(ViewChange::Back));
}

#[test]
fn other_presses_ask_for_nothing() {
    assert_eq!(press(KeyCode::Char('c'), KeyModifiers::NONE), None);
    assert_eq!(press(KeyCode::Char('q'), KeyModifiers::ALT), None);
    assert_eq!(press(KeyCode::Char('q'), KeyModifiers::CONTROL), None);
    assert_eq!(press(KeyCode::Esc, KeyModifiers::NONE), None);
}

#[test]
fn a_key_held_down_or_let_go_does_not_confirm_again() {
    for kind in [KeyEventKind::Repeat, KeyEventKind::Release] {
        let event = KeyEvent::new_with_kind(KeyCode::Enter, KeyModifiers::NONE, kind);
        assert_eq!(action(&event), None);
    }
}

#[test]
fn no_press_means_two_things() {
    let strokes: Vec<_> = KEYS.iter().flat_map(|key| key.strokes).collect();
    for (index, stroke) in strokes.iter().enumerate() {
        assert!(
            !strokes[..index].contains(stroke),
            "{stroke:?} stands twice"
        );
    }
}

#[test]
fn a_letter_is_a_command_or_text_and_with_control_never_text() {
    let event = |code, modifiers| KeyEvent::new(code, modifiers);
    for (letter, command) in [
        ('u', StockCommand::Undo),
        ('p', StockCommand::Pause),
        ('s', StockCommand::Skip),
    ] {
        let plain = event(KeyCode::Char(letter), KeyModifiers::NONE);
        let marked = event(KeyCode::Char(letter), KeyModifiers::CONTROL);
        let means = Some(KeyAction::Stock(command));
        assert_eq!((action(&plain), action(&marked)), (means, means));
        assert_eq!((typed(&plain), typed(&marked)), (Some(letter), None));
    }
    assert_eq!(typed(&event(KeyCode::Enter, KeyModifiers::NONE)), None);
    let shifted = event(KeyCode::Char('Q'), KeyModifiers::SHIFT);
    assert_eq!(typed(&shifted), Some('Q'));
}
