#include "kernel.h"

namespace handfast {

Pose pose_from_rows(const double *m) {
    return {{{m[0], m[1], m[2], m[4], m[5], m[6], m[8], m[9], m[10]}}, {m[3], m[7], m[11]}};
}

void pose_to_rows(const Pose &t, double *m) {
    const double p[3] = {t.p.x, t.p.y, t.p.z};
    for (int i = 0; i < 3; ++i) {
        for (int j = 0; j < 3; ++j) m[4 * i + j] = t.r.m[3 * i + j];
        m[4 * i + 3] = p[i];
        m[12 + i] = 0.0;
    }
    m[15] = 1.0;
}

static Rigid rigid_of(const Pose &t) {
    Rigid out;
    for (int i = 0; i < 9; ++i) out.r[i] = t.r.m[i];
    out.p[0] = t.p.x, out.p[1] = t.p.y, out.p[2] = t.p.z;
    return out;
}

static void to_singles(const Rigid &t, float *out) {
    for (int i = 0; i < 9; ++i) out[i] = float(t.r[i]);
    for (int i = 0; i < 3; ++i) out[9 + i] = float(t.p[i]);
}

// A rotation that takes z to the axis; none where it is z already, so that such frames stay exact.
static Mat turn_z_to(Vec axis) {
    if (axis.x == 0.0 && axis.y == 0.0 && axis.z == 1.0) return {{1, 0, 0, 0, 1, 0, 0, 0, 1}};
    const Vec z = unit(axis);
    const Vec away = std::fabs(z.x) < 0.6 ? Vec{1, 0, 0} : Vec{0, 1, 0};
    const Vec x = unit(cross(away, z)), y = cross(z, x);
    return {{x.x, y.x, z.x, x.y, y.y, z.y, x.z, y.z, z.z}};
}

ArmTable make_arm(const ArmInput &in) {
    ArmTable t;
    t.n = in.n;
    t.base = rigid_of(pose_from_rows(in.base));
    to_singles(t.base, t.base32);
    Pose before = pose_from_rows(in.base);
    for (int i = 0; i < in.n; ++i) {
        const Pose turned = {turn_z_to({in.axes[3 * i], in.axes[3 * i + 1], in.axes[3 * i + 2]}), {0, 0, 0}};
        t.step[i] = rigid_of(before * pose_from_rows(in.placements + 16 * i) * turned);
        to_singles(t.step[i], t.step32[i]);
        for (int k = 0; k < 9; ++k) t.turned[i][k] = turned.r.m[k];
        t.lo[i] = in.lo[i], t.hi[i] = in.hi[i];
        before = inverse(turned);
    }
    t.tip = rigid_of(before * pose_from_rows(in.tip));
    return t;
}

}  // namespace handfast
