provenit_benchmark(coverage DEPENDS evaluation simulated)
