"""Name -> where its contract stands. A plain table, so that one calculation imports one module."""

from difflib import get_close_matches
from importlib import import_module

from wetfront.calculations.contract import Calculation
from wetfront.errors import InvalidInput

_MODULES: dict[str, tuple[str, ...]] = {
    "formwork_pressure": (
        "formwork-pressure-aci",
        "formwork-pressure-ciria",
        "formwork-pressure-din",
        "pressure-envelope",
        "rise-rate",
    ),
    "max_rise": ("max-rise-aci", "max-rise-ciria", "max-rise-din"),
    "setting": ("setting-time-at-temperature", "setting-from-penetration"),
    "joints": ("layer-interval", "live-edge", "stepped-layers"),
    "finishing": ("finishing-window", "finishing-machines", "saw-cut-window"),
    "volumes": (
        "wall-volume",
        "column-volume",
        "tapered-footing-volume",
        "drop-panel-volume",
        "stair-volume",
        "haunch-volume",
        "reinforcement-displacement",
    ),
    "slab_volumes": ("deck-slab-volume", "ground-slab-volume"),
    "order": ("order-quantity",),
    "weather": ("evaporation-rate", "wind-at-height"),
    "temperature": ("fresh-concrete-temperature", "ice-for-temperature", "transport-temperature"),
    "batching": (
        "moisture-corrected-batch",
        "aggregate-moisture",
        "mixer-batches",
    ),
    "batch_tests": ("yield-from-density", "sand-bulking"),
    "admixtures": ("admixture-dose", "water-reduction"),
    "exposure": ("exposure-limits-en-206", "exposure-limits-is-456", "chloride-content"),
    "sampling": ("strength-samples",),
    "consistence": (
        "consistence-class",
        "slump-acceptance",
        "slump-flow-acceptance",
        "slump-test-evaluation",
    ),
    "load_acceptance": (
        "air-content-acceptance",
        "delivery-time-check",
        "placing-temperature-limits",
        "water-addition-on-site",
        "delivery-ticket-check",
    ),
    "vibration": ("vibrator-group", "vibrator-spacing", "vibrator-count"),
    "supply": ("truck-fleet", "pump-output", "pipeline-content", "pump-pressure"),
    "mix_aci": (
        "maximum-aggregate-size",
        "mixing-water-and-air",
        "water-cement-ratio-for-strength",
        "coarse-aggregate-volume",
        "mix-proportions-aci-211",
    ),
    "mix_volume": (
        "fine-aggregate-by-absolute-volume",
        "aggregate-by-fines-fraction",
        "embodied-carbon-of-mix",
        "cost-of-mix",
    ),
    "mix_targets": ("required-average-strength", "target-mean-strength-is-10262", "target-mean-strength-bre"),
    "mix_is": ("mix-proportions-is-10262",),
    "mix_bre": ("free-water-content-bre", "mix-proportions-bre"),
}
_MODULE_OF = {name: module for module, names in _MODULES.items() for name in names}


def names() -> tuple[str, ...]:
    """All calculations, in the order of the table."""
    return tuple(_MODULE_OF)


def calculation(name: str) -> Calculation:
    """The contract of one calculation. InvalidInput names the nearest known one."""
    if name not in _MODULE_OF:
        near = get_close_matches(name, _MODULE_OF, n=1, cutoff=0.5)
        hint = f"; did you mean {near[0]}?" if near else ""
        raise InvalidInput("calculation", f"no calculation is called {name!r}{hint}")
    module = import_module(f"wetfront.calculations.{_MODULE_OF[name]}")
    contracts: tuple[Calculation, ...] = module.CALCULATIONS
    return next(contract for contract in contracts if contract.name == name)
