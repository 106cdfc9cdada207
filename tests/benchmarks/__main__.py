"""Every benchmark with full counts: ``python -m tests.benchmarks``."""

from tests.benchmarks import (
    accuracy,
    batch,
    claps_corpus,
    compare,
    findings,
    logbook_speed,
    page,
    plan,
    speed,
    treat,
)

if __name__ == "__main__":
    speed.main()
    logbook_speed.main()
    claps_corpus.main()
    compare.main()
    batch.main()
    findings.main()
    plan.main([])
    treat.main()
    page.main()
    accuracy.main()
