"""Every benchmark with full counts: ``python -m tests.benchmarks``."""

from tests.benchmarks import accuracy, claps_corpus, compare, speed

if __name__ == "__main__":
    speed.main()
    claps_corpus.main()
    compare.main()
    accuracy.main()
