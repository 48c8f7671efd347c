#pragma once
// A test picture as a request names it, in its query or its body.
#include "fields.h"
#include "provenit/server/api.h"
#include "provenit/signal/test_picture.h"

namespace provenit::server {

/// key, values ("area_percent=4,level_cdm2=100"), transfer, container, range, bits, peak_cdm2 of a query.
/// Errors: invalid_input naming the parameter.
[[nodiscard]] Result<signal::PictureRequest> picture_request(const Request& request,
                                                             const signal::RasterSize& size = {});

/// What a body says of a picture, as a query would. What is wrong with a field is kept in `in`.
[[nodiscard]] Request as_query(Fields& in);

}  // namespace provenit::server
