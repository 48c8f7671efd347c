# Readers of tables: CLF, .cube and ICC device links.
provenit_fuzz(lut_files DEPENDS correct)
