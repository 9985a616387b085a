"""What is printed of a plan: one screen, plan.json, plan.ics, plan.pdf."""

from wetfront.dossier.calendar import calendar_text
from wetfront.dossier.document import plan_document, plan_json, plan_schema
from wetfront.dossier.pdf import plan_pdf
from wetfront.dossier.screen import screen_text

__all__ = ["calendar_text", "plan_document", "plan_json", "plan_pdf", "plan_schema", "screen_text"]
