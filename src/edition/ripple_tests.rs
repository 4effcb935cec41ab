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

/// A state of some form other than a band.
fn other(form: &str, says: &str) -> State {
    State {
        says: says.into(),
        form: Some(form.into()),
        ..State::default()
    }
}

fn lost(reason: &str) -> State {
    State {
        says: format!("not judged: {reason}"),
        not_judged: Some(reason.into()),
        ..State::default()
    }
}

#[test]
fn another_verdict_is_told_by_what_says_it() {
    let notice = |old, new| change(Some(old), Some(new)).map(|change| change.notice);
    for (form, expected) in [
        ("advice", Notice::Advice),
        ("fit", Notice::Fit),
        ("value", Notice::Figures),
        ("band", Notice::Band),
    ] {
        let changed = notice(other(form, "one"), other(form, "two"));
        assert_eq!(changed, Some(expected), "{form}");
        assert_eq!(notice(other(form, "one"), other(form, "one")), None);
        // What was sealed doesn't say its form; what is now does.
        let sealed = State {
            form: None,
            ..other(form, "one")
        };
        assert_eq!(notice(sealed, other(form, "two")), Some(expected), "{form}");
    }
    // Another reason why it is not judged is no other band.
    assert_eq!(notice(lost("x"), lost("y")), Some(Notice::Figures));
    assert_eq!(
        notice(lost("x"), state("low", Some(1), "30")),
        Some(Notice::Judged)
    );
    assert_eq!(change(None, None), None);
    // A finding that reviews don't lead with.
    let key = "pace".parse().unwrap();
    let (low, high) = (state("low", Some(1), "30"), state("high", Some(3), "70"));
    let tier = Change::of(&key, "Pace".into(), false, Some(&low), Some(&high)).unwrap();
    assert_eq!(tier.notice, Notice::Tier);
    assert_eq!(tier.way, Some(Way::Up));
}

#[test]
fn figures_cells_and_ranks_are_noticed_where_both_sides_are_known() {
    let plain = || state("medium", Some(2), "55");
    let notice = |old, new| change(Some(old), Some(new)).map(|change| change.notice);
    let valued = |value: &str| State {
        value: Some(value.into()),
        ..plain()
    };
    let exact = |figure: f64| State {
        exact: Some(vec![figure]),
        ..plain()
    };
    let ranked = |rank| State {
        rank: Some((rank, 9)),
        ..plain()
    };
    let celled = |verdict| State {
        cells: vec![("wet × rock".into(), verdict)],
        ..plain()
    };
    assert_eq!(
        notice(valued("4.2 N·m"), valued("4.3 N·m")),
        Some(Notice::Figures)
    );
    assert_eq!(notice(exact(1.0), exact(2.0)), Some(Notice::Figures));
    assert_eq!(notice(exact(1.0), exact(1.0)), None);
    assert_eq!(notice(plain(), exact(1.0)), None);
    assert_eq!(notice(exact(1.0), plain()), None);
    assert_eq!(
        notice(celled("suits"), celled("other")),
        Some(Notice::Figures)
    );
    assert_eq!(notice(plain(), celled("other")), None);
    assert_eq!(notice(ranked(3), ranked(4)), Some(Notice::Rank));
    assert_eq!(notice(ranked(3), ranked(3)), None);
    // The ledger keeps no ranks.
    assert_eq!(notice(plain(), ranked(4)), None);
}

#[test]
fn a_fall_is_a_fall_over_as_many_bands_and_within_a_band_there_is_no_way() {
    let of = |old, new| {
        let change = change(Some(old), Some(new)).unwrap();
        (change.way, change.bands)
    };
    let (low, high) = (
        || state("low", Some(0), "9"),
        || state("high", Some(3), "70"),
    );
    assert_eq!(of(high(), low()), (Some(Way::Down), 3));
    assert_eq!(of(low(), state("low", Some(0), "10")), (None, 0));
    assert_eq!(of(low(), lost("x")), (None, 0));
    // The same band, among fewer bands now.
    assert_eq!(of(high(), state("high", Some(1), "71")), (None, 0));
}

#[test]
fn the_cells_that_change_are_told_and_no_others() {
    let fit = |verdicts: [&'static str; 3]| State {
        cells: ["wet × rock", "dry × rock", "dry × mud"]
            .into_iter()
            .map(str::to_owned)
            .zip(verdicts)
            .collect(),
        ..other("fit", &verdicts.join(" "))
    };
    let old = fit(["suits", "close", "other"]);
    let mut new = fit(["suits", "other", "close"]);
    // A column that has another name now is no cell that changed.
    new.cells[2].0 = "dry × sand".into();
    let change = change(Some(old), Some(new)).unwrap();
    assert_eq!(change.cells, ["dry × rock: close → other"]);
}

#[test]
fn what_is_judged_no_more_and_what_is_now_is_counted_apart_from_figures_and_verdicts() {
    let mut count = Count::default();
    let medium = || state("medium", Some(2), "55");
    let ranked = |rank| State {
        rank: Some((rank, 9)),
        ..medium()
    };
    for (old, new) in [
        (Some(medium()), Some(lost("x"))),
        (Some(medium()), None),
        (Some(lost("x")), Some(medium())),
        (Some(lost("x")), Some(lost("y"))),
        (Some(medium()), Some(state("medium", Some(2), "56"))),
        (Some(ranked(3)), Some(ranked(4))),
        (Some(other("fit", "a")), Some(other("fit", "b"))),
        (Some(other("advice", "a")), Some(other("advice", "b"))),
    ] {
        count.add(change(old, new).as_ref());
    }
    let expected = Count {
        not_judged: 2,
        judged: 1,
        verdicts: 2,
        figures: 3,
        ..Count::default()
    };
    assert_eq!(count, expected);
}

#[test]
fn a_band_that_is_only_called_otherwise_is_counted_with_the_figures() {
    let mut count = Count::default();
    let near = |other: &str| {
        let says = format!("medium, borderline with {other}");
        state(&says, Some(2), "59")
    };
    for (old, new) in [
        (
            state("medium", Some(2), "55"),
            state("middle", Some(2), "55"),
        ),
        (near("high"), near("low")),
    ] {
        count.add(change(Some(old), Some(new)).as_ref());
    }
    let expected = Count {
        figures: 2,
        ..Count::default()
    };
    assert_eq!(count, expected);
}

#[test]
fn of_two_shoes_the_one_a_reader_would_notice_more_weighs_more() {
    let to = |band: usize| {
        change(
            Some(state("low", Some(0), "9")),
            Some(state("high", Some(band), "70")),
        )
        .unwrap()
    };
    let figures = || {
        change(
            Some(state("low", Some(0), "9")),
            Some(state("low", Some(0), "10")),
        )
        .unwrap()
    };
    let shoe = |changes: Vec<Change>| ShoeChange {
        shoe: "a-shoe".parse().unwrap(),
        title: "A shoe".into(),
        notice: changes[0].notice,
        changes,
    };
    let by_weight = [
        shoe(vec![figures()]),
        shoe(vec![figures(), figures()]),
        shoe(vec![to(1), figures(), figures()]),
        shoe(vec![to(1), to(1)]),
        shoe(vec![to(3), figures()]),
    ];
    for two in by_weight.windows(2) {
        assert!(weight(&two[0]) < weight(&two[1]), "{:?}", weight(&two[1]));
    }
    assert_eq!(weight(&by_weight[3]), (Notice::Band, 1, 2));
}
