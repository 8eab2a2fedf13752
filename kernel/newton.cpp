// One Newton step: the forces at the iterate and how they change, solved for the movement that ends them.
#include <algorithm>

#include "balance.h"

namespace handfast {

namespace {

Vec column(int j, Vec arm) {
    const Vec e = {j % 3 == 0 ? 1.0 : 0.0, j % 3 == 1 ? 1.0 : 0.0, j % 3 == 2 ? 1.0 : 0.0};
    return j < 3 ? e : cross(e, arm);
}

// Gauss elimination with row exchange: h x = -g.
void solve(int n, double (*h)[6 * MAX_BODIES], double *g, double *x) {
    for (int j = 0; j < n; ++j) {
        int best = j;
        for (int i = j + 1; i < n; ++i)
            if (std::fabs(h[i][j]) > std::fabs(h[best][j])) best = i;
        if (best != j) {
            for (int k = j; k < n; ++k) std::swap(h[j][k], h[best][k]);
            std::swap(g[j], g[best]);
        }
        const double pivot = std::fabs(h[j][j]) > 1e-12 ? h[j][j] : 1e-12;
        for (int i = j + 1; i < n; ++i) {
            const double share = h[i][j] / pivot;
            if (share == 0) continue;
            for (int k = j + 1; k < n; ++k) h[i][k] -= share * h[j][k];
            g[i] -= share * g[j];
        }
        h[j][j] = pivot;
    }
    for (int i = n; i-- > 0;) {
        double s = -g[i];
        for (int k = i + 1; k < n; ++k) s -= h[i][k] * x[k];
        x[i] = s / h[i][i];
    }
}

}  // namespace

// exact: with the change of the normal forces, so that the matrix has no symmetry; else with those in force_.
void Balance::newton(double *step, bool exact) const {
    double h[6 * MAX_BODIES][6 * MAX_BODIES] = {}, g[6 * MAX_BODIES];
    spring_pull(now_, g);
    for (int b = 0; b < n_ / 6; ++b)
        for (int j = 0; j < 3; ++j) {
            const Vec e = {j == 0 ? 1.0 : 0.0, j == 1 ? 1.0 : 0.0, j == 2 ? 1.0 : 0.0};
            const Vec t = springs(b, e, false), r = springs(b, e, true);
            const double ct[3] = {t.x, t.y, t.z}, cr[3] = {r.x, r.y, r.z};
            for (int i = 0; i < 3; ++i) h[6 * b + i][6 * b + j] += ct[i], h[6 * b + 3 + i][6 * b + 3 + j] += cr[i];
        }
    for (size_t k = 0; k < touches_.size(); ++k)
        add(touches_[k], exact ? going_.friction * going_.stiffness * touches_[k].depth : force_[k], exact, h, g);
    solve(n_, h, g, step);
}

void Balance::add(const Touch &t, double most, bool exact, Matrix h, double *g) const {
    const double s = norm(t.along), far = std::max(s, going_.slip), w = most / far, k = going_.stiffness;
    const Vec pull = w * t.along - (k * t.depth) * t.normal;  // gradient with respect to the point of a
    // Across the wall its stiffness; along it the friction's, none in the direction in which a point slides; and
    // friction grows as the point goes into the wall.
    Mat stiff;
    const double n[3] = {t.normal.x, t.normal.y, t.normal.z}, l[3] = {t.along.x / far, t.along.y / far, t.along.z / far};
    const double straight = exact && s > going_.slip ? w : 0.0, grows = exact ? going_.friction * k : 0.0;
    for (int i = 0; i < 3; ++i)
        for (int j = 0; j < 3; ++j)
            stiff.m[3 * i + j] = (k - w) * n[i] * n[j] + (i == j ? w : 0.0) - straight * l[i] * l[j] - grows * l[i] * n[j];
    const int ends[2] = {t.a, t.b};
    Vec arm[2];
    for (int e = 0; e < 2; ++e)
        if (ends[e] >= 0) arm[e] = t.at - now_[size_t(ends[e])].p;
    for (int e = 0; e < 2; ++e) {
        if (ends[e] < 0) continue;
        const double sign = e == 0 ? 1.0 : -1.0;
        const Vec turn = cross(arm[e], pull);
        const double own[6] = {pull.x, pull.y, pull.z, turn.x, turn.y, turn.z};
        for (int i = 0; i < 6; ++i) g[6 * ends[e] + i] += sign * own[i];
        for (int f = 0; f < 2; ++f) {
            if (ends[f] < 0) continue;
            const double both = e == f ? 1.0 : -1.0;
            for (int j = 0; j < 6; ++j) {
                const Vec v = column(j, arm[f]), force = stiff * v, moment = cross(arm[e], force);
                const double c[6] = {force.x, force.y, force.z, moment.x, moment.y, moment.z};
                for (int i = 0; i < 6; ++i) h[6 * ends[e] + i][6 * ends[f] + j] += both * c[i];
            }
        }
    }
}

}  // namespace handfast
