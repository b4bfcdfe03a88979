"""Whether promises come true: invented shops played into ledgers, each order quoted as it came.

Keys: `kept_80`, `kept_95`, the share of promises kept at each level; `chance_error_80`, `_95`, how
far the mean chance stated is from the share kept; `lead_vs_fixed`, the mean lead promised over that
of the best fixed lead, chosen in hindsight for the same share kept, of both levels the worse;
`lead_vs_past_quantile`, over that of a rolling quantile of past leads; `dishonest_tenths`, how many
tenths of stated chance are further off than their number allows.
"""

from collections.abc import Mapping, Sequence
from functools import partial
from multiprocessing import Pool

from judge_worlds import LEVELS, Report, judge_replayed, report
from judging import by_tenth


def calibration(
    worlds: Sequence[int], replications: int, every: int, weeks: int, processes: int
) -> tuple[Report, tuple[str, ...]]:
    """Judge worlds; return the report and the tenths of stated chance in words."""
    work = partial(judge_replayed, replications=replications, every=every, weeks=weeks)
    with Pool(processes) as pool:
        judged = pool.map(work, worlds, chunksize=1)
    tenths = []
    for level in LEVELS:
        chosen = [p for each in judged for p in each.promises if p.level == level]
        tenths += [
            f"{level:.2f} from {t.above:.1f}: {t.count} promises, stated {t.stated:.3f}, "
            f"kept {t.kept:.3f}, off by at most {t.allowed:.3f} allowed"
            for t in by_tenth(chosen)
        ]
    return report(judged), tuple(tenths)


def figures(found: Report) -> Mapping[str, float]:
    """Return the keys that are measured."""
    return {**found.figures, "dishonest_tenths": found.dishonest_tenths}


def print_shops(found: Report) -> None:
    """Print a row a shop and level: shares, then mean leads in days."""
    print("level shop  count   kept stated   lead  fixed   past")
    for level in LEVELS:
        for row in found.shops[round(level * 100)]:
            leads = f"{row.lead:7.2f}{row.fixed:7.2f}{row.past:7.2f}"
            print(f"{level:5.2f}{row.shop:5}{row.count:7}{row.kept:7.2f}{row.stated:7.2f}{leads}")
