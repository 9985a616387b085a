"""A search that is cut short, by lost workers or by Ctrl-C: the best so far, labelled as that."""

from concurrent.futures import BrokenExecutor

from wetfront.planning.judge import risk_limits
from wetfront.planning.race import BENEFIT_OF_DOUBT, Rounds, ranked
from wetfront.planning.search import FINAL_ROUNDS, Bench, Found, race_of, search
from wetfront.planning.situation import Situation

STILL_RACED = 12
"""Of the best so far that many are raced once more, in this process (own rule): few enough for seconds."""
BY_CTRL_C = "stopped by Ctrl-C"


def search_or_best_so_far(situation: Situation, bench: Bench, final_rounds: Rounds = FINAL_ROUNDS) -> Found | None:
    """As `search`; where it is cut short, the best of what it had tried, with the cause in `Found.cut_short`.

    The best few are raced to the end in this process, so that the one shown has its full number of replications and no
    lucky few of them. Where the workers are lost before anything was tried, the whole search is done in this process.
    KeyboardInterrupt where Ctrl-C came before anything was tried, or again during that race.
    """
    bench.carries_on_alone = False
    try:
        return search(situation, bench, final_rounds)
    except BrokenExecutor as lost:
        cause = str(lost) or "the worker processes are lost"
    except KeyboardInterrupt:
        if not bench.samples:
            raise
        cause = BY_CTRL_C
    finally:
        bench.carries_on_alone = True
    bench.executor = None
    return _best_so_far(bench, final_rounds, cause) if bench.samples else search(situation, bench, final_rounds)


def _best_so_far(bench: Bench, final_rounds: Rounds, cause: str) -> Found:
    limits = risk_limits(bench.situation.sheet.risk_limits)
    tried = list(bench.samples)
    order = ranked(dict(enumerate(bench.samples.values())), limits, BENEFIT_OF_DOUBT)
    pool = [tried[number] for number in order[:STILL_RACED]]
    last = race_of(bench, pool, limits, final_rounds)
    return Found(tuple(pool[number] for number in last.ranking), last, bench, limits, cause)


def cut_short_words(found: Found) -> tuple[str, ...]:
    """The label, to be read before anything else of the plan; nothing where the search ran to its end."""
    if not found.cut_short:
        return ()
    return (
        f"search cut short: best so far of {found.candidates_count} candidates ({found.cut_short}); a better plan may "
        "exist: plan again before anything is ordered",
    )
