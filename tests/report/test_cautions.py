"""What is said where somebody may be hurt."""

from audiolevel.report.cautions import CAUTIONS_ON_SITE


def test_every_danger_of_the_work_is_named_and_the_law_goes_first() -> None:
    said = " ".join(CAUTIONS_ON_SITE).lower()
    for danger in ("ladder", "traffic", "mains", "hearing", "consent", "law"):
        assert danger in said
