//! The comparison of two states of a finding, by hand.

use super::*;

fn state(says: &str, band: Option<usize>, score: &str) -> State {
    State {
        says: says.into(),
        score: Some(score.into()),
        band: band.map(|_| says.split(',').next().unwrap_or_default().to_owned()),
        band_index: band,
        borderline: says
            .split_once("borderline with ")
            .map(|(_, near)| near.to_owned()),
        form: Some("band".into()),
        ..State::default()
    }
}

fn change(old: Option<State>, new: Option<State>) -> Option<Change> {
    let key = "torsion".parse().unwrap();
    Change::of(&key, "Torsion".into(), true, old.as_ref(), new.as_ref())
}

#[test]
fn what_a_reader_would_notice_is_told_apart() {
    let medium = || Some(state("medium", Some(2), "55"));
    let lost = || {
        Some(State {
            says: "not judged: x".into(),
            not_judged: Some("x".into()),
            ..State::default()
        })
    };
    let notice = |old, new| change(old, new).map(|change| change.notice);
    assert_eq!(notice(medium(), medium()), None);
    let high = || Some(state("high", Some(3), "61"));
    assert_eq!(notice(medium(), high()), Some(Notice::Band));
    let near = || Some(state("medium, borderline with high", Some(2), "55"));
    assert_eq!(notice(medium(), near()), Some(Notice::Borderline));
    let more = || Some(state("medium", Some(2), "56"));
    assert_eq!(notice(medium(), more()), Some(Notice::Figures));
    assert_eq!(notice(medium(), lost()), Some(Notice::Judged));
    assert_eq!(notice(medium(), None), Some(Notice::Judged));
}

#[test]
fn a_change_says_which_way_and_how_far() {
    let up = change(
        Some(state("low", Some(1), "30")),
        Some(state("high", Some(3), "70")),
    );
    let up = up.unwrap();
    assert_eq!((up.way, up.bands), (Some(Way::Up), 2));
}

#[test]
fn counts_hold_every_shoe_once_or_more_and_same_means_same() {
    let mut count = Count::default();
    let near = state("medium, borderline with high", Some(2), "59");
    let pairs = [
        (
            state("medium", Some(2), "55"),
            state("medium", Some(2), "55"),
        ),
        (state("medium", Some(2), "55"), state("high", Some(3), "61")),
        (state("high", Some(3), "61"), state("medium", Some(2), "55")),
        (state("medium", Some(2), "59"), near.clone()),
        (near, state("high", Some(3), "61")),
    ];
    for (old, new) in pairs {
        count.add(change(Some(old), Some(new)).as_ref());
    }
    assert_eq!(
        (
            count.same,
            count.up,
            count.down,
            count.borderline,
            count.settled
        ),
        (1, 2, 1, 1, 1)
    );
}
