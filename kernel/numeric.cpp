// Inverse kinematics by damped least squares, damping after T. Sugihara, "Solvability-unconcerned inverse kinematics by
// the Levenberg-Marquardt method", IEEE T-RO 27 (2011): half the squared error plus a small constant.
#include <algorithm>

#include "kernel.h"

namespace handfast {
#include "random.inc"

constexpr double DONE = 1e-13;  // nothing left to gain

static void error_twist(const Pose &now, const Pose &target, double *e) {
    const Vec p = target.p - now.p, w = rotation_vector(target.r * transpose(now.r));
    const double values[6] = {p.x, p.y, p.z, w.x, w.y, w.z};
    std::copy(values, values + 6, e);
}

PoseError pose_error(const ArmTable &arm, const double *q, const Pose &target) {
    double e[6];
    error_twist(tip_pose(arm, q), target, e);
    return {norm({e[0], e[1], e[2]}), norm({e[3], e[4], e[5]})};
}

// Solves (J J^T + damping I) y = e by Cholesky; false if not positive definite.
static bool solve_damped(const double *jac, int n, double damping, const double *e, double *y) {
    double l[6][6];
    for (int i = 0; i < 6; ++i)
        for (int j = 0; j <= i; ++j) {
            double s = i == j ? damping : 0.0;
            for (int k = 0; k < n; ++k) s += jac[i * n + k] * jac[j * n + k];
            for (int k = 0; k < j; ++k) s -= l[i][k] * l[j][k];
            if (i == j && s <= 0.0) return false;
            l[i][j] = i == j ? std::sqrt(s) : s / l[j][j];
        }
    for (int i = 0; i < 6; ++i) {
        y[i] = e[i];
        for (int k = 0; k < i; ++k) y[i] -= l[i][k] * y[k];
        y[i] /= l[i][i];
    }
    for (int i = 5; i >= 0; --i) {
        for (int k = i + 1; k < 6; ++k) y[i] -= l[k][i] * y[k];
        y[i] /= l[i][i];
    }
    return true;
}

bool settle(const ArmTable &arm, const Pose &target, int iterations, bool keep_limits, double *q) {
    double jac[6 * MAX_JOINTS], e[6], y[6];
    for (int it = 0;; ++it) {
        error_twist(tip_pose(arm, q), target, e);
        const double p2 = e[0] * e[0] + e[1] * e[1] + e[2] * e[2], w2 = e[3] * e[3] + e[4] * e[4] + e[5] * e[5];
        const bool good = p2 < GOOD * GOOD && w2 < GOOD * GOOD;
        if (it == iterations || p2 + w2 < DONE * DONE) return good;
        tip_jacobian(arm, q, jac);
        if (!solve_damped(jac, arm.n, 0.5 * (p2 + w2) + 1e-12, e, y)) return good;
        for (int j = 0; j < arm.n; ++j) {
            for (int k = 0; k < 6; ++k) q[j] += jac[k * arm.n + j] * y[k];
            if (keep_limits) q[j] = std::min(std::max(q[j], arm.lo[j]), arm.hi[j]);
        }
    }
}

bool same_turn(const double *a, const double *b, int n) {
    for (int j = 0; j < n; ++j) {
        const double d = a[j] - b[j];
        if (std::fabs(d - 2.0 * PI * std::floor(d / (2.0 * PI) + 0.5)) > 1e-6) return false;
    }
    return true;
}

void search_inverse(const ArmTable &arm, const Pose &target, const Restarts &how, uint64_t row, double *q, bool *valid) {
    const int n = arm.n;
    Random random = random_from(how.seed ^ (row * 0x9e3779b97f4a7c15ull));
    int found = 0;
    std::fill(valid, valid + BRANCHES, false);
    for (size_t k = 0; k < how.count + size_t(how.restarts) && found < BRANCHES; ++k) {
        double *x = q + found * n;
        for (int j = 0; j < n; ++j)
            x[j] = k < how.count ? how.starts[k * size_t(n) + size_t(j)]
                                 : arm.lo[j] + (arm.hi[j] - arm.lo[j]) * random_unit(random);
        if (!settle(arm, target, how.iterations, true, x)) continue;
        bool known = false;
        for (int i = 0; i < found; ++i) known = known || same_turn(x, q + i * n, n);
        if (!known) valid[found++] = true;
    }
    std::fill(q + found * n, q + BRANCHES * n, std::nan(""));
}

}  // namespace handfast
