"""One module for each thing that a person does: reads what there is, asks the rooms, puts the answer together."""

from wetfront.desk.plan_pour import plan_pours

__all__ = ["plan_pours"]
