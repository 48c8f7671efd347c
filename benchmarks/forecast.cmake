provenit_benchmark(forecast DEPENDS forecast simulated LINK fmt::fmt)
