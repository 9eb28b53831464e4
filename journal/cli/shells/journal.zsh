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
if [[ ${funcstack[1]} == _journal ]]; then
    # As a file of $fpath it is read at the first Tab.
    _journal "$@"
else
    (( ${+functions[compdef]} )) || { autoload -Uz compinit && compinit -i }
    compdef _journal journal
fi
