#version 330 core
// Red and green carry the item number, blue and alpha the two components of the normal across the view.
uniform vec3 color;
in vec3 eye_normal;
out vec4 frag_color;

void main()
{
    vec3 n = normalize(eye_normal);
    frag_color = vec4(color.r, color.g, n.x * 0.5 + 0.5, n.y * 0.5 + 0.5);
}
