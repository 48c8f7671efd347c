provenit_benchmark(correct_frame DEPENDS correct LINK PkgConfig::OpenColorIO fmt::fmt)
provenit_benchmark(correct_lut DEPENDS correct LINK TBB::tbb fmt::fmt)
provenit_benchmark(correction DEPENDS correct simulated LINK TBB::tbb fmt::fmt)
