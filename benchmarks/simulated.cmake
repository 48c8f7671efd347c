provenit_benchmark(simulated DEPENDS simulated)
