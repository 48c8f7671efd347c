provenit_benchmark(demo_figures DEPENDS loan LINK fmt::fmt)
# Where the page's tests and their packages lie; empty if this build has no page.
target_compile_definitions(bench_demo_figures PRIVATE PROVENIT_WEB_BUILD="${provenit_web_build}")
