provenit_fuzz(selfcheck_table DEPENDS selfcheck LINK nlohmann_json::nlohmann_json)
