"""A press that reports every shot, folded."""

from hypothesis import given
from hypothesis import strategies as st

from moldcare.core.counting import fold_to_pieces, judge_counter
from moldcare.core.counting.values import CounterSetup, Readings
from tests.core.counting.builders import HOUR, SECOND


def test_an_hour_with_two_restarts_keeps_three_pieces():
    values = [*range(100, 160), *range(60), *range(60)]
    pieces = fold_to_pieces((place * 20 * SECOND, value) for place, value in enumerate(values))
    assert [(each.first_value, each.last_value) for each in pieces] == [
        (100, 159),
        (0, 59),
        (0, 59),
    ]
    assert sum(each.messages for each in pieces) == 180


def test_a_piece_is_at_most_an_hour_long():
    pieces = fold_to_pieces((place * 20 * SECOND, place) for place in range(400))
    assert [each.messages for each in pieces] == [181, 181, 38]
    assert all(each.last_at_us - each.first_at_us <= HOUR for each in pieces)


def test_a_repeated_message_is_not_a_new_reading():
    [piece] = fold_to_pieces([(0, 45_200), (0, 45_200), (20, 45_201)])
    assert piece.messages == 2


@given(st.lists(st.integers(0, 2), min_size=1, max_size=60))
def test_folding_loses_no_cycle(rises):
    messages = [(place * 20 * SECOND, sum(rises[:place])) for place in range(len(rises) + 1)]

    def total(rows):
        judged = judge_counter(
            Readings(
                ids=list(range(len(rows))),
                at_us=[row[0] for row in rows],
                values=[row[1] for row in rows],
            ),
            setup=CounterSetup(),
        )
        return judged.point_totals[-1]

    ends = [
        end
        for piece in fold_to_pieces(messages, longest_us=200 * SECOND)
        for end in sorted(
            {(piece.first_at_us, piece.first_value), (piece.last_at_us, piece.last_value)}
        )
    ]
    assert total(ends) == total(messages)
