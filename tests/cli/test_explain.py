"""`gratemap explain`: what it says of a position beside how its reading was corrected."""

from __future__ import annotations

HEADER = "position,aim,shown_f\n"
ROWS = "A1,rail,562\nA4,rail,571\nB2,rail,580\nB3,rail,588\nC1,rail,590\nC4,rail,601\nA2,rail,566\nB1,rail,577\n"


def test_contact_readings_that_contradict_one_another_are_told(plain_grill, gratemap, monkeypatch):
    monkeypatch.chdir(plain_grill)
    (plain_grill / "readings.csv").write_text(HEADER + ROWS + "B2,contact,604\nB2,contact,545\n", encoding="utf-8")
    result = gratemap("explain", "B3")
    assert "Contact readings disagree: 545 at B2 and 604 at B2 (readings 10 and 9) are 59 °F apart." in result.stdout
    assert "known only to ±" in result.stdout
