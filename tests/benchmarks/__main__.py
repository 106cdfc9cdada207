"""Every benchmark with full counts: ``python -m tests.benchmarks``."""

from tests.benchmarks import accuracy, claps_corpus, speed

if __name__ == "__main__":
    speed.main()
    claps_corpus.main()
    accuracy.main()
