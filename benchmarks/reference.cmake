provenit_benchmark(reference_figures DEPENDS selfcheck LINK fmt::fmt)
