provenit_fuzz(server_request DEPENDS server)
