provenit_benchmark(demo_figures DEPENDS loan LINK fmt::fmt)
