#include "provenit/instrument/line_instrument.h"

#include "line/session.h"

namespace provenit::instrument {

LineInstrument::LineInstrument(std::unique_ptr<Session> session) : session_(std::move(session)) {}
LineInstrument::~LineInstrument() = default;

Result<std::unique_ptr<LineInstrument>> LineInstrument::open(InstrumentDescription description) {
  auto transport = make_transport(description.transport);
  return open(std::move(description), std::move(transport));
}

Result<std::unique_ptr<LineInstrument>> LineInstrument::open(InstrumentDescription description,
                                                             std::unique_ptr<Transport> transport) {
  auto session = std::make_unique<Session>(std::move(description), std::move(transport));
  if (auto started = session->start(); !started) return tl::unexpected(started.error());
  return std::unique_ptr<LineInstrument>(new LineInstrument(std::move(session)));
}

Result<Identity> LineInstrument::identify() {
  return session_->identify();
}

const Capabilities& LineInstrument::capabilities() const {
  return session_->description().capabilities;
}

Result<Measurement> LineInstrument::measure(std::int64_t /*index*/) {
  return session_->measure();
}

std::vector<InstrumentEvent> LineInstrument::take_events() {
  return session_->take_events();
}

void LineInstrument::expect(colour::Luminance<> luminance) {
  session_->expect(luminance);
}

const InstrumentDescription& LineInstrument::description() const {
  return session_->description();
}

}  // namespace provenit::instrument
