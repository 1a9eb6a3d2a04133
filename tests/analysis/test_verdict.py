"""The verdict's arithmetic against hand-worked cases, and an answer that never claims more than the calls."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from generator.analysis.answer import BENCH_SHEET, join_words
from generator.analysis.verdict import find_verdict
from generator.records.findings import Contrast, Verdict

NAMES = {"a": "Alder", "b": "Birch", "c": "Cedar"}
TIE, OPEN, FEW = "no difference that matters", "undecided", "too few runs"


def contrast(item: str, first: str, second: str, call: str) -> Contrast:
    """A contrast whose call is an id (that one is ahead) or the words of a call."""
    ahead = call if call in NAMES else None
    words = f"{call} ahead" if ahead else call
    return Contrast(
        item, "acceleration", "acceleration", "m/s^2", (first, second), 1.0, 0.5, 1.5, 0.1, words, "why", ahead=ahead
    )


def pairs(calls: dict[str, str], weights: dict[str, float] | None = None) -> Verdict:
    """Two candidates, one call per item."""
    contrasts = [contrast(item, "a", "b", call) for item, call in calls.items()]
    return find_verdict({"a": "Alder", "b": "Birch"}, list(calls), contrasts, weights or {})


def test_weights_in_tenths_are_level_where_they_are() -> None:
    # 0.1 + 0.2 against 0.3, and 0.8 against 0.7 with 0.1 open
    level = pairs({"one": "a", "two": "a", "three": "b"}, {"one": 0.1, "two": 0.2, "three": 0.3})
    assert level.leader is None
    assert level.sentence.endswith("by the weights stated Alder and Birch are level.")
    assert pairs({"one": "a", "two": "b", "three": OPEN}, {"one": 0.8, "two": 0.7, "three": 0.1}).could_turn


def test_where_two_are_level_any_change_turns_it() -> None:
    # a and b have 2 each: a's item above 2 puts a ahead, below 2 puts b ahead
    turns = {turn.item: turn for turn in pairs({"one": "a", "two": "b", "three": TIE}, {"one": 2, "two": 2}).turns_when}

    assert (turns["one"].below, turns["one"].leader_below) == (2, "b")
    assert (turns["one"].above, turns["one"].leader_above) == (2, "a")
    assert (turns["three"].below, turns["three"].above) == (None, None)


def triple(ab: str, ac: str, bc: str) -> Verdict:
    contrasts = [contrast("i", "a", "b", ab), contrast("i", "a", "c", ac), contrast("i", "b", "c", bc)]
    return find_verdict(NAMES, ["i"], contrasts, {})


def test_shares_by_hand() -> None:
    # weights 3, 2, 2, 1, 2 of 10: a wins 3, b wins 2, a tie on 2, undecided 1, not measured 2
    calls = {"one": "a", "two": "b", "three": TIE, "four": OPEN}
    contrasts = [contrast(item, "a", "b", call) for item, call in calls.items()]
    weights = {"one": 3, "two": 2, "three": 2, "four": 1, "five": 2}

    found = find_verdict({"a": "Alder", "b": "Birch"}, [*calls, "five"], contrasts, weights)

    assert found.won == {"a": pytest.approx(0.3), "b": pytest.approx(0.2)}
    assert (found.ties, found.undecided, found.not_measured) == pytest.approx((0.2, 0.1, 0.2))
    assert (found.leader, found.calls) == ("a", 4)
    assert [call.outcome for call in found.items] == ["won", "won", "tie", "undecided", "not measured"]


def test_one_pair_gives_its_own_reason_and_several_a_common_one() -> None:
    assert [call.reason for call in pairs({"one": "a", "two": TIE}).items] == ["why", "why"]
    assert triple("a", "a", "b").items[0].reason == "ahead of every other candidate"
    assert triple(TIE, "a", "b").items[0].reason == "the best do not differ by what matters"


def test_a_pair_that_no_interval_was_asked_for_is_no_call() -> None:
    asked = contrast("one", "a", "b", OPEN)
    blocks = replace(asked, item="two", low=None, high=None)

    assert find_verdict({"a": "Alder", "b": "Birch"}, ["one", "two"], [asked, blocks], {}).calls == 1


def test_where_the_outcome_turns_by_hand() -> None:
    # a leads 3 + 1 against 2: it is level when "one" falls to 1, or when "two" rises to 4
    found = pairs({"one": "a", "two": "b", "three": "a", "four": TIE}, {"one": 3, "two": 2, "three": 1, "four": 5})

    turns = {turn.item: turn for turn in found.turns_when}
    assert (turns["one"].below, turns["one"].leader_below, turns["one"].above) == (1, "b", None)
    assert (turns["two"].above, turns["two"].leader_above, turns["two"].below) == (4, "b", None)
    assert (turns["three"].below, turns["four"].below, turns["four"].above) == (None, None, None)


def test_where_three_are_level_no_single_one_follows() -> None:
    winners = {"one": "a", "two": "b", "three": "c"}
    contrasts = [
        contrast(item, first, second, winner if winner in (first, second) else OPEN)
        for item, winner in winners.items()
        for first, second in (("a", "b"), ("a", "c"), ("b", "c"))
    ]
    found = find_verdict(NAMES, list(winners), contrasts, {})

    assert found.leader is None
    assert [(turn.below, turn.above, turn.leader_above) for turn in found.turns_when] == [
        (None, 1.0, "a"), (None, 1.0, "b"), (None, 1.0, "c"),
    ]  # fmt: skip


@settings(derandomize=True, deadline=None)
@given(
    calls=st.lists(st.sampled_from(["a", "b", TIE, OPEN]), min_size=1, max_size=6),
    weights=st.lists(st.integers(1, 9), min_size=6, max_size=6),
)
def test_turns_are_where_the_leader_changes(calls: list[str], weights: list[int]) -> None:
    items = {f"i{k}": call for k, call in enumerate(calls)}
    stated = {item: float(weight) for item, weight in zip(items, weights, strict=False)}
    found = pairs(items, stated)

    assert sum(found.won.values()) + found.ties + found.undecided + found.not_measured == pytest.approx(1)
    for turn in found.turns_when:
        for edge, leader, way in ((turn.below, turn.leader_below, -0.5), (turn.above, turn.leader_above, 0.5)):
            if edge is None:
                continue
            assert pairs(items, {**stated, turn.item: edge + way}).leader == leader
            inside = edge if edge == turn.weight else edge - way  # where two are level the edge is the weight itself
            assert pairs(items, {**stated, turn.item: inside}).leader == found.leader


def test_no_weights_count_alike() -> None:
    assert pairs({"one": "a", "two": "b", "three": "a"}).won == {"a": pytest.approx(2 / 3), "b": pytest.approx(1 / 3)}


def test_items_without_a_weight_weigh_nothing() -> None:
    found = pairs({"one": "a", "two": "b"}, {"one": 2})

    assert found.won == {"a": 1.0, "b": 0.0}
    assert found.sentence == "Alder is ahead in one."


@pytest.mark.parametrize(
    ("calls", "sentence"),
    [
        (["a"], "Alder is ahead in i0."),
        (["a", "a"], "Alder is ahead in i0 and i1."),
        (["a"] * 5, "Alder is ahead in all 5 items measured."),
        (
            ["a", "a", "b"],
            "Alder is ahead in i0 and i1; Birch is ahead in i2; with all items counting alike Alder leads.",
        ),
        (
            ["a", "b"],
            "Alder is ahead in i0; Birch is ahead in i1; with all items counting alike Alder and Birch are level.",
        ),
        (
            ["a", "a", "b", OPEN],
            "Alder is ahead in i0 and i1; Birch is ahead in i2; i3 is still undecided; "
            "with all items counting alike Alder leads, which what is open could turn.",
        ),
        (["a", TIE, OPEN], "Alder is ahead in i0; no difference that matters shows in i1; i2 is still undecided."),
        ([TIE, TIE], "No difference that matters shows in i0 and i1."),
        ([OPEN, FEW], "What was measured does not tell Alder and Birch apart."),
        (
            [FEW, FEW],
            "There are too few runs to tell Alder and Birch apart: what was measured is described, not called.",
        ),
    ],
)
def test_sentences_for_two(calls: list[str], sentence: str) -> None:
    assert pairs({f"i{k}": call for k, call in enumerate(calls)}).sentence == sentence


@pytest.mark.parametrize(
    ("calls", "outcome", "sentence"),
    [
        (("a", "a", "b"), "won", "Alder is ahead of Birch and Cedar in i."),
        (
            (TIE, "a", "b"),
            "tie",
            "No difference that matters between Alder and Birch shows in i, where Cedar is behind.",
        ),
        ((OPEN, "a", "b"), "undecided", "Nobody is ahead of everyone in i, where Cedar is behind."),
        ((OPEN, "a", OPEN), "undecided", "Nobody is ahead of everyone in i, where Cedar is behind."),
        ((TIE, TIE, TIE), "tie", "No difference that matters shows in i."),
        ((OPEN, OPEN, OPEN), "undecided", "What was measured does not tell Alder, Birch and Cedar apart."),
        (("a", "c", "b"), "undecided", "Nobody is ahead of everyone in i, where each is behind another."),
    ],
)
def test_sentences_for_three(calls: tuple[str, str, str], outcome: str, sentence: str) -> None:
    found = triple(*calls)

    assert (found.items[0].outcome, found.sentence) == (outcome, sentence)


def test_descriptions_and_a_name_in_lower_case_stay_as_written() -> None:
    found = find_verdict(
        {"a": "e-coil 42", "b": "Birch"},
        ["i"],
        [contrast("i", "a", "b", "a")],
        {"i": 1},
        {"i": "acceleration at 500 mm/s along x and y"},
    )

    assert found.sentence == "e-coil 42 is ahead in acceleration at 500 mm/s along x and y."


def test_nothing_measured_is_a_bench_sheet() -> None:
    found = find_verdict(NAMES, ["i"], [], {"i": 1})

    assert found.sentence == BENCH_SHEET
    assert (found.leader, found.calls, found.not_measured) == (None, 0, 1.0)


def test_one_candidate_measured_tells_nothing() -> None:
    found = find_verdict(NAMES, ["i"], [], {}, measured=["i"])

    assert found.items[0].outcome == "undecided"
    assert found.sentence == "What was measured does not tell Alder, Birch and Cedar apart."


def test_an_item_that_leaves_a_candidate_out_is_not_won() -> None:
    contrasts = [contrast("i", "a", "b", "a"), *(contrast("j", x, y, "a") for x, y in (("a", "b"), ("a", "c")))]
    contrasts.append(contrast("j", "b", "c", OPEN))

    found = find_verdict(NAMES, ["i", "j"], contrasts, {})

    assert [call.outcome for call in found.items] == ["undecided", "won"]


def test_weight_only_on_what_was_not_measured() -> None:
    found = find_verdict(NAMES, ["i", "j"], [contrast("i", "a", "b", "a")], {"j": 1})

    assert found.sentence == "What was measured carries no weight."


CALLS = st.sampled_from(["a", "b", "c", TIE, OPEN, FEW])


@settings(derandomize=True, deadline=None, max_examples=300)
@given(items=st.lists(st.tuples(CALLS, CALLS, CALLS), min_size=1, max_size=5))
@example(items=[("a", "a", OPEN)] * 3)
@example(items=[("a", "a", OPEN)] * 3 + [("b", "a", "b"), ("a", "c", TIE)])
def test_the_answer_never_claims_more_than_the_calls(items: list[tuple[str, str, str]]) -> None:
    """Whoever is said to be ahead in an item has beaten everyone there; whoever is behind has been beaten there."""
    contrasts, names = [], [f"i{k}" for k in range(len(items))]
    for name, calls in zip(names, items, strict=True):
        for (first, second), call in zip((("a", "b"), ("a", "c"), ("b", "c")), calls, strict=True):
            contrasts.append(contrast(name, first, second, call if call in (first, second, TIE, OPEN, FEW) else OPEN))
    found = find_verdict(NAMES, names, contrasts, {})

    beaten = {(c.item, c.ahead, n) for c in contrasts if c.ahead for n in c.between if n != c.ahead}
    for clause in found.sentence.rstrip(".").split("; "):
        for candidate, title in NAMES.items():
            others = [other for other in NAMES if other != candidate]
            if clause.startswith(f"{title} is ahead of"):
                won = {i for i in names if all((i, candidate, other) in beaten for other in others)}
                words = clause.split(" in ")[1].replace(",", "").split()
                counts = [int(word) for word in words if word.isdigit()]
                if counts:
                    assert counts == ([len(won)] if "all" in words else [len(won), len(items)])
                    assert ("all" in words) == (len(won) == len(items))
                else:
                    assert set(words) - {"and"} == won
            if f"{title} is behind" in clause:
                assert any(beaten_name == candidate for *_, beaten_name in beaten)
    if not any(c.ahead for c in contrasts):
        assert "ahead" not in found.sentence and "leads" not in found.sentence
    if "leads" in found.sentence:
        assert found.leader is not None and NAMES[found.leader] in found.sentence


def test_join_words() -> None:
    assert [join_words(list(text)) for text in ("a", "ab", "abc")] == ["a", "a and b", "a, b and c"]
