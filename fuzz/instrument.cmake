# Parsers of instrument that read bytes from outside. Run one with its corpus: fuzz_csv_import fuzz/corpus/csv_import
foreach(target csv_import cgats_import line_reply instrument_description trace_import)
  provenit_fuzz(${target} DEPENDS instrument)
endforeach()
