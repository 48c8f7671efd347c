// A card driven through Linux KMS with atomic commits. source  Linux 6.1 uapi drm_mode.h, drm.h; libdrm 2.4
#include <drm_fourcc.h>
#include <fcntl.h>

#include <algorithm>
#include <cerrno>
#include <cmath>

#include "output/card.h"
#include "output/drm_handles.h"

namespace provenit::show {
namespace {

/// What to set, object by object; applied at once or not at all.
class Commit {
 public:
  explicit Commit(int fd) : fd_(fd), request_(drmModeAtomicAlloc()) {}
  /// Leaves out what the object has not.
  void set(std::uint32_t object, const Properties& properties, const std::string& name, std::uint64_t value) {
    const auto found = properties.find(name);
    if (found != properties.end()) drmModeAtomicAddProperty(request_.get(), object, found->second.id, value);
  }
  /// 0, or the errno.
  int apply(std::uint32_t flags) {
    if (!request_) return ENOMEM;
    return drmModeAtomicCommit(fd_, request_.get(), flags, nullptr) == 0 ? 0 : errno;
  }

 private:
  int fd_;
  DrmRequest request_;
};

/// One pipeline: what scans out to a connector.
struct Pipe {
  std::uint32_t connector = 0, crtc = 0, plane = 0;
  Properties of_connector, of_crtc, of_plane;
};

/// Everything this program changes, as it was. Blobs are kept as bytes: their ids do not outlive the change.
constexpr const char* kConnectorParts[] = {"CRTC_ID", "HDR_OUTPUT_METADATA", "Colorspace", "max bpc", "Broadcast RGB"};
constexpr const char* kCrtcParts[] = {"ACTIVE", "MODE_ID", "GAMMA_LUT", "DEGAMMA_LUT", "CTM"};
constexpr const char* kPlaneParts[] = {"FB_ID", "CRTC_ID", "SRC_X",  "SRC_Y",  "SRC_W",
                                       "SRC_H", "CRTC_X",  "CRTC_Y", "CRTC_W", "CRTC_H"};
constexpr const char* kBlobParts[] = {"HDR_OUTPUT_METADATA", "MODE_ID", "GAMMA_LUT", "DEGAMMA_LUT", "CTM"};

bool is_blob(const std::string& name) {
  return std::ranges::find(kBlobParts, name) != std::end(kBlobParts);
}

class DrmCard final : public Card {
 public:
  DrmCard(int fd, std::string path) : file_(fd), path_(std::move(path)) {}
  ~DrmCard() override {
    (void)restore();
    shown_.reset();
    drmDropMaster(fd());
  }
  DrmCard(const DrmCard&) = delete;
  DrmCard& operator=(const DrmCard&) = delete;

  Result<void> begin() {
    if (drmSetMaster(fd()) != 0) return problem(CardStep::become_master, errno);
    if (drmSetClientCap(fd(), DRM_CLIENT_CAP_UNIVERSAL_PLANES, 1) != 0 ||
        drmSetClientCap(fd(), DRM_CLIENT_CAP_ATOMIC, 1) != 0)
      return problem(CardStep::atomic, errno);
    return {};
  }

  Result<std::vector<Connector>> connectors() override {
    const DrmResources resources(drmModeGetResources(fd()));
    if (!resources) return tl::unexpected(card_problem(CardStep::atomic, errno, path_));
    std::vector<Connector> all;
    for (int i = 0; i < resources->count_connectors; ++i) {
      const DrmConnector c(drmModeGetConnector(fd(), resources->connectors[i]));
      if (c) all.push_back(described(*c, *resources));
    }
    return all;
  }

  Result<void> put(const OutputState& state, const Mode& mode, const LineWriter& writer) override {
    if (!pipe_) {
      auto found = pipe_of(state.connector);
      if (!found) return tl::unexpected(found.error());
      pipe_ = std::move(*found);
      keep();
    }
    const auto width = static_cast<std::uint32_t>(mode.size.width),
               height = static_cast<std::uint32_t>(mode.size.height);
    auto buffer = ScanBuffer::make(fd(), width, height, state.ten_bits);
    if (!buffer) return problem(CardStep::commit, errno);
    for (int y = 0; y < mode.size.height; ++y) writer(y, {buffer->line(y), width});
    Commit commit(fd());
    std::vector<std::uint32_t> blobs;
    if (auto set = describe(state, width, height, *buffer, commit, blobs); !set) return set;
    int refused = commit.apply(DRM_MODE_ATOMIC_TEST_ONLY | DRM_MODE_ATOMIC_ALLOW_MODESET);
    // A commit that is not asked to return early comes back when the picture is scanned out.
    if (refused == 0) refused = commit.apply(DRM_MODE_ATOMIC_ALLOW_MODESET);
    for (const auto blob : blobs) drmModeDestroyPropertyBlob(fd(), blob);
    if (refused != 0) return problem(CardStep::commit, refused);
    changed_ = true;
    shown_ = std::move(buffer);
    return {};
  }

  Result<void> restore() override {
    if (!changed_) return {};
    changed_ = false;
    Commit commit(fd());
    std::vector<std::uint32_t> blobs;
    for (const auto& part : kept_) {
      std::uint64_t value = part.value;
      if (!part.blob.empty()) value = make_blob(part.blob.data(), part.blob.size(), blobs);
      commit.set(part.object, *part.properties, part.name, value);
    }
    const int refused = commit.apply(DRM_MODE_ATOMIC_ALLOW_MODESET);
    for (const auto blob : blobs) drmModeDestroyPropertyBlob(fd(), blob);
    if (refused == 0) return {};
    auto error = card_problem(CardStep::commit, refused, path_);
    error.message = "the output could not be put back as it was";
    error.advice = "Switch to another console and back, or restart the desktop.";
    return tl::unexpected(error);
  }

 private:
  struct Kept {
    std::uint32_t object = 0;
    const Properties* properties = nullptr;
    std::string name;
    std::uint64_t value = 0;
    std::vector<std::uint8_t> blob;
  };

  [[nodiscard]] int fd() const { return file_.get(); }
  [[nodiscard]] tl::unexpected<Error> problem(CardStep step, int number) const {
    return tl::unexpected(card_problem(step, number, path_));
  }

  Connector described(const drmModeConnector& c, const drmModeRes& resources) const {
    const char* type = drmModeGetConnectorTypeName(c.connector_type);
    Connector out{.id = c.connector_id,
                  .name = std::string(type != nullptr ? type : "output") + "-" + std::to_string(c.connector_type_id),
                  .connected = c.connection == DRM_MODE_CONNECTED};
    for (int i = 0; i < c.count_modes; ++i) {
      const auto& m = c.modes[i];
      const double total = double(m.htotal) * m.vtotal;
      out.modes.push_back({.size = {m.hdisplay, m.vdisplay},
                           .refresh_hz = total > 0 ? 1000.0 * m.clock / total : m.vrefresh,
                           .preferred = (m.type & DRM_MODE_TYPE_PREFERRED) != 0,
                           .interlaced = (m.flags & DRM_MODE_FLAG_INTERLACE) != 0});
    }
    const auto properties = properties_of(fd(), c.connector_id, DRM_MODE_OBJECT_CONNECTOR);
    out.hdr_metadata = properties.contains("HDR_OUTPUT_METADATA");
    if (const auto p = properties.find("Colorspace"); p != properties.end())
      for (const auto& [name, value] : p->second.choices) out.colorspaces.push_back(name);
    if (const auto p = properties.find("max bpc"); p != properties.end())
      out.max_bpc = static_cast<int>(p->second.highest);
    if (const auto p = properties.find("EDID"); p != properties.end())
      out.announced = announced_hdr(blob_of(fd(), p->second.value));
    const auto crtc = crtc_for(c, resources);
    const auto plane = crtc ? primary_plane(*crtc) : nullptr;
    out.ten_bits = plane && std::find(plane->formats, plane->formats + plane->count_formats, DRM_FORMAT_XRGB2101010) !=
                                plane->formats + plane->count_formats;
    return out;
  }

  /// The one that feeds the connector now, or the first that can: its place in the resources.
  [[nodiscard]] std::optional<int> crtc_for(const drmModeConnector& c, const drmModeRes& resources) const {
    if (const DrmEncoder now(drmModeGetEncoder(fd(), c.encoder_id)); now)
      for (int i = 0; i < resources.count_crtcs; ++i)
        if (resources.crtcs[i] == now->crtc_id) return i;
    for (int k = 0; k < c.count_encoders; ++k) {
      const DrmEncoder encoder(drmModeGetEncoder(fd(), c.encoders[k]));
      for (int i = 0; encoder && i < resources.count_crtcs; ++i)
        if ((encoder->possible_crtcs >> i & 1U) != 0) return i;
    }
    return std::nullopt;
  }

  [[nodiscard]] DrmPlane primary_plane(int crtc) const {
    const DrmPlanes all(drmModeGetPlaneResources(fd()));
    for (std::uint32_t i = 0; all && i < all->count_planes; ++i) {
      DrmPlane plane(drmModeGetPlane(fd(), all->planes[i]));
      if (!plane || (plane->possible_crtcs >> crtc & 1U) == 0) continue;
      const auto properties = properties_of(fd(), plane->plane_id, DRM_MODE_OBJECT_PLANE);
      const auto type = properties.find("type");
      if (type != properties.end() && type->second.value == DRM_PLANE_TYPE_PRIMARY) return plane;
    }
    return nullptr;
  }

  Result<Pipe> pipe_of(std::uint32_t connector) const {
    const DrmResources resources(drmModeGetResources(fd()));
    const DrmConnector c(drmModeGetConnector(fd(), connector));
    const auto crtc = resources && c ? crtc_for(*c, *resources) : std::nullopt;
    const auto plane = crtc ? primary_plane(*crtc) : nullptr;
    if (!plane) return fail(ErrorCode::unsupported, "nothing of the card can feed this connector", {}, {.file = path_});
    Pipe pipe{.connector = connector, .crtc = resources->crtcs[*crtc], .plane = plane->plane_id};
    pipe.of_connector = properties_of(fd(), pipe.connector, DRM_MODE_OBJECT_CONNECTOR);
    pipe.of_crtc = properties_of(fd(), pipe.crtc, DRM_MODE_OBJECT_CRTC);
    pipe.of_plane = properties_of(fd(), pipe.plane, DRM_MODE_OBJECT_PLANE);
    return pipe;
  }

  void keep() {
    const auto keep_parts = [&](std::uint32_t object, const Properties& properties, const auto& names) {
      for (const char* name : names)
        if (const auto p = properties.find(name); p != properties.end())
          kept_.push_back({object, &properties, name, p->second.value,
                           is_blob(name) ? blob_of(fd(), p->second.value) : std::vector<std::uint8_t>{}});
    };
    keep_parts(pipe_->connector, pipe_->of_connector, kConnectorParts);
    keep_parts(pipe_->crtc, pipe_->of_crtc, kCrtcParts);
    keep_parts(pipe_->plane, pipe_->of_plane, kPlaneParts);
  }

  /// 0 if the card refuses; the commit will then, too.
  std::uint32_t make_blob(const void* data, std::size_t size, std::vector<std::uint32_t>& blobs) const {
    std::uint32_t id = 0;
    if (drmModeCreatePropertyBlob(fd(), data, size, &id) != 0) return 0;
    blobs.push_back(id);
    return id;
  }

  Result<void> describe(const OutputState& state, std::uint32_t width, std::uint32_t height, const ScanBuffer& buffer,
                        Commit& commit, std::vector<std::uint32_t>& blobs) const {
    const DrmConnector c(drmModeGetConnector(fd(), state.connector));
    if (!c || state.mode >= static_cast<std::size_t>(c->count_modes))
      return fail(ErrorCode::io, "the display was unplugged or changed its modes", "Connect it and run again.");
    const auto& p = *pipe_;
    commit.set(p.connector, p.of_connector, "CRTC_ID", p.crtc);
    const auto choose = [&](const char* name, const std::string& choice) {
      const auto property = p.of_connector.find(name);
      if (property == p.of_connector.end()) return;
      const auto value = property->second.choices.find(choice);
      if (value != property->second.choices.end()) commit.set(p.connector, p.of_connector, name, value->second);
    };
    if (!state.colorspace.empty()) choose("Colorspace", state.colorspace);
    choose("Broadcast RGB", "Full");
    if (state.max_bpc > 0)
      commit.set(p.connector, p.of_connector, "max bpc", static_cast<std::uint64_t>(state.max_bpc));
    commit.set(p.connector, p.of_connector, "HDR_OUTPUT_METADATA",
               state.metadata ? make_blob(state.metadata->data(), state.metadata->size(), blobs) : 0);
    commit.set(p.crtc, p.of_crtc, "MODE_ID", make_blob(&c->modes[state.mode], sizeof(drmModeModeInfo), blobs));
    commit.set(p.crtc, p.of_crtc, "ACTIVE", 1);
    for (const char* curve : {"GAMMA_LUT", "DEGAMMA_LUT", "CTM"}) commit.set(p.crtc, p.of_crtc, curve, 0);  // identity
    const std::pair<const char*, std::uint64_t> plane[] = {{"FB_ID", buffer.id()},
                                                           {"CRTC_ID", p.crtc},
                                                           {"SRC_X", 0},
                                                           {"SRC_Y", 0},
                                                           {"SRC_W", std::uint64_t{width} << 16},
                                                           {"SRC_H", std::uint64_t{height} << 16},  // 16.16 fixed point
                                                           {"CRTC_X", 0},
                                                           {"CRTC_Y", 0},
                                                           {"CRTC_W", width},
                                                           {"CRTC_H", height}};
    for (const auto& [name, value] : plane) commit.set(p.plane, p.of_plane, name, value);
    return {};
  }

  File file_;
  std::string path_;
  std::optional<Pipe> pipe_;
  std::vector<Kept> kept_;
  std::unique_ptr<ScanBuffer> shown_;
  bool changed_ = false;
};

}  // namespace

Result<std::unique_ptr<Card>> open_drm_card(const std::string& path) {
  const int fd = ::open(path.c_str(), O_RDWR | O_CLOEXEC);
  if (fd < 0) return tl::unexpected(card_problem(CardStep::open, errno, path));
  auto card = std::make_unique<DrmCard>(fd, path);
  if (auto began = card->begin(); !began) return tl::unexpected(began.error());
  return std::unique_ptr<Card>(std::move(card));
}

}  // namespace provenit::show
