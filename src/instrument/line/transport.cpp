#include "provenit/instrument/transport.h"

#include <fcntl.h>
#include <fmt/format.h>
#include <netdb.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <sys/file.h>
#include <sys/ioctl.h>
#include <sys/socket.h>
#include <termios.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <chrono>
#include <cmath>
#include <cstring>
#include <thread>
#include <utility>

#include "provenit/instrument/instrument_description.h"

namespace provenit::instrument {
namespace {

int poll_ms(Seconds span) {
  return static_cast<int>(std::clamp(std::ceil(span.s * 1000), 0.0, 1e9));
}

/// What TCP and serial share once they are connected: a non-blocking file descriptor.
class DescriptorTransport : public Transport {
 public:
  explicit DescriptorTransport(std::string address) : address_(std::move(address)) {}
  DescriptorTransport(const DescriptorTransport&) = delete;
  DescriptorTransport& operator=(const DescriptorTransport&) = delete;
  ~DescriptorTransport() override { shut(); }

  void close() override { shut(); }
  [[nodiscard]] bool connected() const override { return fd_ >= 0; }

  Result<void> send(std::string_view bytes, Seconds timeout) override {
    if (!connected()) return lost("is not connected");
    const Seconds end = elapsed() + timeout;
    while (!bytes.empty()) {
      const auto sent = write_some(bytes);
      if (sent > 0) {
        bytes.remove_prefix(static_cast<std::size_t>(sent));
        continue;
      }
      if (sent == 0 || (errno != EAGAIN && errno != EINTR)) return lost(std::strerror(errno));
      if (elapsed() >= end)
        return fail(ErrorCode::timeout, address_ + ": the instrument takes no more bytes",
                    "Check the flow control and the cable.");
      wait_for(POLLOUT, end - elapsed());
    }
    return {};
  }

  Result<std::string> receive(Seconds timeout) override {
    if (!connected()) return lost_text("is not connected");
    const Seconds end = elapsed() + timeout;
    std::array<char, 4096> buffer{};
    for (;;) {
      const auto got = ::read(fd_, buffer.data(), buffer.size());
      if (got > 0) return std::string(buffer.data(), static_cast<std::size_t>(got));
      if (got == 0 && ends_at_zero()) return lost_text("the other end closed the connection");
      if (got < 0 && errno != EAGAIN && errno != EINTR) return lost_text(std::strerror(errno));
      if (elapsed() >= end) return std::string{};
      wait_for(POLLIN, end - elapsed());
    }
  }

  [[nodiscard]] Seconds elapsed() const override {
    return {std::chrono::duration<double>(std::chrono::steady_clock::now().time_since_epoch()).count()};
  }
  void wait(Seconds span) override {
    if (span.s > 0) std::this_thread::sleep_for(std::chrono::duration<double>(span.s));
  }

 protected:
  [[nodiscard]] virtual ssize_t write_some(std::string_view bytes) = 0;
  /// A read of 0 bytes means the end for a socket; a serial line has none to give just now.
  [[nodiscard]] virtual bool ends_at_zero() const = 0;

  tl::unexpected<Error> lost(const std::string& why) {
    shut();
    return fail(ErrorCode::io, fmt::format("{}: {}", address_, why), "Check the cable, the power and the address.");
  }
  Result<std::string> lost_text(const std::string& why) { return lost(why); }
  void wait_for(short events, Seconds span) const {
    pollfd p{fd_, events, 0};
    static_cast<void>(::poll(&p, 1, poll_ms(span)));
  }
  void shut() {
    if (fd_ >= 0) ::close(fd_);
    fd_ = -1;
  }

  std::string address_;
  int fd_ = -1;
};

class TcpTransport final : public DescriptorTransport {
 public:
  explicit TcpTransport(const TransportDescription& d)
      : DescriptorTransport(d.address()), host_(d.host), port_(d.port), timeout_(d.connect_timeout) {}

  Result<void> connect() override {
    shut();
    if (host_.empty() || port_ == 0)
      return fail(ErrorCode::invalid_input, "the description names no host and port",
                  "Give them under [transport], or an address tcp:HOST:PORT.");
    addrinfo hints{};
    hints.ai_socktype = SOCK_STREAM;
    addrinfo* found = nullptr;
    if (const int rc = ::getaddrinfo(host_.c_str(), std::to_string(port_).c_str(), &hints, &found); rc != 0)
      return fail(ErrorCode::io, fmt::format("{}: the name cannot be resolved: {}", address_, ::gai_strerror(rc)),
                  "Check the host name.");
    Result<void> result = fail(ErrorCode::io, address_ + ": no address to connect to");
    for (const addrinfo* a = found; a; a = a->ai_next) {
      result = connect_to(*a);
      if (result) break;
    }
    ::freeaddrinfo(found);
    return result;
  }

 protected:
  ssize_t write_some(std::string_view bytes) override { return ::send(fd_, bytes.data(), bytes.size(), MSG_NOSIGNAL); }
  bool ends_at_zero() const override { return true; }

 private:
  Result<void> connect_to(const addrinfo& a) {
    fd_ = ::socket(a.ai_family, a.ai_socktype | SOCK_NONBLOCK | SOCK_CLOEXEC, a.ai_protocol);
    if (fd_ < 0) return lost(std::strerror(errno));
    if (::connect(fd_, a.ai_addr, a.ai_addrlen) != 0) {
      if (errno != EINPROGRESS) return lost(std::strerror(errno));
      pollfd p{fd_, POLLOUT, 0};
      int ready = 0;
      do ready = ::poll(&p, 1, poll_ms(timeout_));
      while (ready < 0 && errno == EINTR);
      if (ready == 0) {
        shut();
        return fail(ErrorCode::timeout, fmt::format("{}: no answer in {} s", address_, timeout_.s),
                    "Check the address and that the instrument is on.");
      }
      int error = 0;
      socklen_t size = sizeof error;
      if (::getsockopt(fd_, SOL_SOCKET, SO_ERROR, &error, &size) != 0) error = errno;
      if (error != 0) return lost(std::strerror(error));
    }
    // A command is a few bytes: waiting to fill a packet would add its delay to every reading.
    const int on = 1;
    ::setsockopt(fd_, IPPROTO_TCP, TCP_NODELAY, &on, sizeof on);
    ::setsockopt(fd_, SOL_SOCKET, SO_KEEPALIVE, &on, sizeof on);
    return {};
  }

  std::string host_;
  int port_;
  Seconds timeout_;
};

struct BaudRate {
  int baud;
  speed_t speed;
};
constexpr std::array kBaudRates{
    BaudRate{50, B50},         BaudRate{75, B75},         BaudRate{110, B110},        BaudRate{134, B134},
    BaudRate{150, B150},       BaudRate{200, B200},       BaudRate{300, B300},        BaudRate{600, B600},
    BaudRate{1200, B1200},     BaudRate{1800, B1800},     BaudRate{2400, B2400},      BaudRate{4800, B4800},
    BaudRate{9600, B9600},     BaudRate{19200, B19200},   BaudRate{38400, B38400},    BaudRate{57600, B57600},
    BaudRate{115200, B115200}, BaudRate{230400, B230400}, BaudRate{460800, B460800},  BaudRate{500000, B500000},
    BaudRate{576000, B576000}, BaudRate{921600, B921600}, BaudRate{1000000, B1000000}};

class SerialTransport final : public DescriptorTransport {
 public:
  explicit SerialTransport(TransportDescription d) : DescriptorTransport(d.address()), d_(std::move(d)) {}

  Result<void> connect() override {
    shut();
    if (d_.device.empty())
      return fail(ErrorCode::invalid_input, "the description names no device",
                  "Give it under [transport], or an address serial:DEVICE.");
    fd_ = ::open(d_.device.c_str(), O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
    if (fd_ < 0) return lost(std::strerror(errno));
    if (::isatty(fd_) == 0) return lost("is no serial line");
    // Two programs on one line take each other's replies. The lock tells them apart even for root, whom TIOCEXCL lets
    // pass.
    if (::flock(fd_, LOCK_EX | LOCK_NB) != 0) return lost("another program uses this line");
    if (::ioctl(fd_, TIOCEXCL) != 0) return lost(std::strerror(errno));
    return configure();
  }

 protected:
  ssize_t write_some(std::string_view bytes) override { return ::write(fd_, bytes.data(), bytes.size()); }
  bool ends_at_zero() const override {
    pollfd p{fd_, POLLIN, 0};
    return ::poll(&p, 1, 0) > 0 && (p.revents & (POLLHUP | POLLERR | POLLNVAL)) != 0;
  }

 private:
  Result<void> configure() {
    const auto* rate = std::ranges::find(kBaudRates, d_.baud, &BaudRate::baud);
    if (rate == kBaudRates.end()) {
      shut();
      return fail(ErrorCode::unsupported, fmt::format("{}: {} baud is no rate of this system", address_, d_.baud),
                  "Use a usual rate such as 9600 or 115200.");
    }
    termios line{};
    if (::tcgetattr(fd_, &line) != 0) return lost(std::strerror(errno));
    ::cfmakeraw(&line);
    ::cfsetispeed(&line, rate->speed);
    ::cfsetospeed(&line, rate->speed);
    constexpr std::array<tcflag_t, 4> sizes{CS5, CS6, CS7, CS8};
    line.c_cflag &= ~static_cast<tcflag_t>(CSIZE | PARENB | PARODD | CSTOPB | CRTSCTS);
    line.c_cflag |= CLOCAL | CREAD | sizes[static_cast<std::size_t>(d_.data_bits - 5)];
    if (d_.parity != Parity::none) line.c_cflag |= PARENB;
    if (d_.parity == Parity::odd) line.c_cflag |= PARODD;
    if (d_.parity != Parity::none) line.c_iflag |= INPCK;
    if (d_.stop_bits == 2) line.c_cflag |= CSTOPB;
    if (d_.flow == Flow::hardware) line.c_cflag |= CRTSCTS;
    line.c_iflag &= ~static_cast<tcflag_t>(IXON | IXOFF | IXANY);
    if (d_.flow == Flow::software) line.c_iflag |= IXON | IXOFF;
    line.c_cc[VMIN] = 0;
    line.c_cc[VTIME] = 0;
    if (::tcsetattr(fd_, TCSANOW, &line) != 0) return lost(std::strerror(errno));
    ::tcflush(fd_, TCIOFLUSH);
    return check_speed(rate->speed);
  }

  /// tcsetattr succeeds if any one of its changes did: the rate is read back.
  Result<void> check_speed(speed_t wanted) {
    termios line{};
    if (::tcgetattr(fd_, &line) != 0) return lost(std::strerror(errno));
    if (::cfgetospeed(&line) == wanted) return {};
    shut();
    return fail(ErrorCode::unsupported, fmt::format("{}: the line does not take {} baud", address_, d_.baud),
                "Use a rate that the line can do.");
  }

  TransportDescription d_;
};

}  // namespace

std::unique_ptr<Transport> make_transport(const TransportDescription& description) {
  if (description.kind == TransportKind::serial) return std::make_unique<SerialTransport>(description);
  return std::make_unique<TcpTransport>(description);
}

}  // namespace provenit::instrument
