"""How far a batched mass may be from the one asked for."""

from dataclasses import dataclass

from wetfront.nouns.reason import Provenance, Source


@dataclass(frozen=True, slots=True)
class BatchingTolerances:
    """Tolerances of one practice, plus and minus, in percent of the mass asked for."""

    cement_percent: float
    water_percent: float
    aggregate_percent: float
    admixture_percent: float
    source: Source

    def of(self, kind: str) -> float:
        """For cement, water or admixture; any other kind is an aggregate."""
        named = {"cement": self.cement_percent, "water": self.water_percent, "admixture": self.admixture_percent}
        return named.get(kind, self.aggregate_percent)

    @property
    def words(self) -> str:
        """All four in a line."""
        return (
            f"cement ± {self.cement_percent:g} %, water ± {self.water_percent:g} %, aggregate ± "
            f"{self.aggregate_percent:g} %, admixture ± {self.admixture_percent:g} %"
        )


BATCHING_TOLERANCES = {
    "en": BatchingTolerances(3.0, 3.0, 3.0, 5.0, Source("EN 206:2013+A2, Table 27", Provenance.PUBLISHED)),
    "astm": BatchingTolerances(1.0, 3.0, 2.0, 3.0, Source("ASTM C94, batching accuracy", Provenance.MEMORY)),
}
"""The EN row for admixtures holds for those up to 5 % of the cement."""
