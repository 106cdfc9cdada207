"""Every benchmark with full counts: ``python -m tests.benchmarks``."""

from tests.benchmarks import accuracy, batch, claps_corpus, compare, speed

if __name__ == "__main__":
    speed.main()
    claps_corpus.main()
    compare.main()
    batch.main()
    accuracy.main()
