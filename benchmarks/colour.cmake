provenit_benchmark(colour_figures DEPENDS colour LINK fmt::fmt)
