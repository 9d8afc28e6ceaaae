"""DEVELOPERS.md shows the house as it is: no circle among the rooms, and the picture drawn from today's imports."""

from house import PAGE, leans, page, reduced, rooms


def test_no_room_leans_on_one_that_leans_on_it() -> None:
    found = reduced(leans(rooms()))  # raises where there is a circle
    assert "supervisor.rules" in found
    assert not any(
        one.startswith("sim.") for name, under in found.items() if name.startswith("supervisor.") for one in under
    )


def test_the_picture_is_of_today() -> None:
    text = PAGE.read_text(encoding="utf-8")
    assert text == page(text), "python tests/repository/house.py draws it anew"


def test_every_room_says_what_it_is() -> None:
    assert all(len(words) > 20 for words in rooms().values())
