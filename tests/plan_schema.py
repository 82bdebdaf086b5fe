"""The JSON Schema of a plan, written beside the documentation: `python -m tests.plan_schema`."""

from pathlib import Path

from audiolevel.planning.plan_record import plan_schema
from audiolevel.records import json_text

PAGE = Path(__file__).parents[1] / "docs" / "plan.schema.json"

if __name__ == "__main__":
    PAGE.write_text(json_text(plan_schema()), encoding="utf-8")
