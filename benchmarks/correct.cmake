provenit_benchmark(correct_frame DEPENDS correct LINK PkgConfig::OpenColorIO fmt::fmt)
