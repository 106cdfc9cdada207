"""Every benchmark with full counts: ``python -m tests.benchmarks``."""

from tests.benchmarks import accuracy, claps_corpus, compare, findings, speed

if __name__ == "__main__":
    speed.main()
    claps_corpus.main()
    compare.main()
    findings.main()
    accuracy.main()
