#compdef journal
_journal() {
    local -a found
    found=("${(@f)$(journal complete-words $((CURRENT - 2)) "${(@)words[2,-1]}" 2>/dev/null)}")
    found=("${(@)found:#}")
    if (( ! ${#found} )); then
        _files
        return
    fi
    found=("${(@)found//:/\\:}")
    found=("${(@)found/$'\t'/:}")
    _describe 'journal' found
}
compdef _journal journal
